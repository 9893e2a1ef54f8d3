// The real server in a process of its own, and questions to it.

import { spawn } from 'node:child_process';
import { get } from 'node:http';
import { fileURLToPath } from 'node:url';

/** The program as it is built. */
export const PROGRAM = fileURLToPath(new URL('../../.build/host/main.js', import.meta.url));

export async function serving(dir: string): Promise<{ url: string; end: () => Promise<void> }> {
  const child = spawn(process.execPath, [PROGRAM, 'serve', '--dir', dir, '--port', '0'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = new Promise<void>((resolve) => child.on('exit', () => resolve()));
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout.setEncoding('utf8').on('data', (line: string) => {
      const found = /http:\S+/.exec(line);
      if (found !== null) resolve(found[0]);
    });
    void ended.then(() => reject(new Error('the server ended by itself')));
  });
  return {
    url,
    end: () => {
      child.kill('SIGTERM');
      return ended;
    },
  };
}

export function ask<T>(url: string): Promise<T> {
  return new Promise((resolve, reject) => {
    get(url, (response) => {
      let text = '';
      response
        .setEncoding('utf8')
        .on('data', (part: string) => (text += part))
        .on('end', () => {
          if (response.statusCode === 200) resolve(JSON.parse(text) as T);
          else reject(new Error(text));
        });
    }).on('error', reject);
  });
}
