// All commands by their names. Each is loaded only when it is called: a start should not
// pay for the others.

import type { Command } from './command.ts';

export const COMMANDS: Record<string, () => Promise<{ command: Command }>> = {
  start: () => import('./start.ts'),
  boards: () => import('./boards.ts'),
  record: () => import('./record.ts'),
  analyse: () => import('./analyse.ts'),
  report: () => import('./report.ts'),
  import: () => import('./import.ts'),
  export: () => import('./export.ts'),
  about: () => import('./about.ts'),
  mark: () => import('./mark.ts'),
  recalibrate: () => import('./recalibrate.ts'),
  forget: () => import('./forget.ts'),
  serve: () => import('./serve.ts'),
  emulate: () => import('./emulate.ts'),
  flash: () => import('./flash.ts'),
  calibrate: () => import('./calibrate.ts'),
  prove: () => import('./prove.ts'),
  bay: () => import('./bay.ts'),
  'always-on': () => import('./always-on.ts'),
  completion: async () => ({ command: (await import('./completion.ts')).completionOf(COMMANDS) }),
};
