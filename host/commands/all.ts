// All commands by their names. Each is loaded only when it is called: a start should not
// pay for the others, nor should the list of them.

import type { Listed } from './command.ts';

export const COMMANDS: Record<string, Listed> = {
  start: {
    summary: 'serves the example nights and runs an emulated board',
    load: () => import('./start.ts'),
  },
  boards: {
    summary: 'lists the boards at this computer',
    load: () => import('./boards.ts'),
  },
  record: {
    summary: 'records a board into a capture',
    load: () => import('./record.ts'),
  },
  analyse: {
    summary: 'says what a capture or a CSV shows and means',
    load: () => import('./analyse.ts'),
  },
  report: {
    summary: 'writes the page for the job file: PDF, HTML, PNG or SVG',
    load: () => import('./report.ts'),
  },
  import: {
    summary: 'turns a CSV, or an exported file, into a capture',
    load: () => import('./import.ts'),
  },
  export: {
    summary: 'writes a capture as CSV, JSON or Parquet',
    load: () => import('./export.ts'),
  },
  about: {
    summary: 'shows or sets what a capture says of job, car and battery',
    load: () => import('./about.ts'),
  },
  mark: {
    summary: 'sets a mark on a capture',
    load: () => import('./mark.ts'),
  },
  recalibrate: {
    summary: 'gives a capture another shunt, gain or offset',
    load: () => import('./recalibrate.ts'),
  },
  forget: {
    summary: 'removes what names a person or a car from a capture',
    load: () => import('./forget.ts'),
  },
  serve: {
    summary: 'serves the morning view of a folder of captures, and records from it',
    load: () => import('./serve.ts'),
  },
  emulate: {
    summary: 'runs the shipped firmware against a modelled car',
    load: () => import('./emulate.ts'),
  },
  flash: {
    summary: 'writes the shipped firmware into a board',
    load: () => import('./flash.ts'),
  },
  calibrate: {
    summary: 'shows or sets how a board is calibrated',
    load: () => import('./calibrate.ts'),
  },
  prove: {
    summary: 'leads through the check of a new board, before its first night',
    load: () => import('./prove.ts'),
  },
  bay: {
    summary: 'finds the part that draws, fuse by fuse, and proves the repair',
    load: () => import('./bay.ts'),
  },
  'always-on': {
    summary: 'makes a computer in the bay record by itself (Linux)',
    load: () => import('./always-on.ts'),
  },
  completion: {
    summary: 'prints what completes the command line in bash, zsh or fish',
    load: async () => ({ command: (await import('./completion.ts')).completionOf(COMMANDS) }),
  },
};
