// Lint rules for host, web and tests: the type-checked set, and the size habits.
import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['**/*.mjs', '.build/**'] },
  ...tseslint.configs.recommendedTypeChecked,
  {
    languageOptions: {
      parserOptions: { project: './tsconfig.json', tsconfigRootDir: new URL('..', import.meta.url).pathname },
    },
    rules: {
      eqeqeq: 'error',
      'no-var': 'error',
      'prefer-const': 'error',
      'max-lines-per-function': ['error', { max: 90, skipBlankLines: true, skipComments: true }],
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_' }],
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true }],
    },
  },
  {
    files: ['tests/**'],
    rules: { 'max-lines-per-function': 'off' },
  },
);
