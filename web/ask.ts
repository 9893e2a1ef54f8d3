// Questions to the server. Answers are typed by the server's own schemas; a refusal
// becomes an error that carries the server's sentence.

import type { Findings } from '../host/analysis/findings.ts';
import type { CaptureInfo, CaptureList, Details, Overview, Problem } from '../host/server/api.ts';
import type { Mark } from './chart/data.ts';

export class AskError extends Error {
  /** Null where no server answered. */
  readonly status: number | null;

  constructor(status: number | null, message: string) {
    super(message);
    this.status = status;
  }
}

async function ask<T>(path: string, signal?: AbortSignal, order: RequestInit = {}): Promise<T> {
  let response: Response;
  try {
    response = await fetch(`api/${path}`, { ...order, ...(signal === undefined ? {} : { signal }) });
  } catch (error) {
    if (signal?.aborted === true) throw error;
    throw new AskError(null, 'The server does not answer. Is it still running? This page tries again by itself.');
  }
  if (response.ok) return (await response.json()) as T;
  const problem = (await response.json().catch(() => null)) as Problem | null;
  throw new AskError(response.status, problem?.error.message ?? `The server answered with status ${response.status}.`);
}

const capture = (name: string) => `captures/${encodeURIComponent(name)}`;

export const askList = () => ask<CaptureList>('captures');
export const askInfo = (name: string) => ask<CaptureInfo>(capture(name));

/** Settings that were typed in the page, by their key in the server's table. */
export type Told = Readonly<Record<string, string>>;

export const askFindings = (name: string, told: Told = {}) => ask<Findings>(`${capture(name)}/findings${Object.keys(told).length === 0 ? '' : `?${new URLSearchParams(told).toString()}`}`);
export const askSmall = (name: string) => ask<Overview>(`${capture(name)}/small`);
export const askDetails = (name: string) => ask<Details>(`${capture(name)}/details`);

function change<T>(method: 'POST' | 'PATCH' | 'DELETE', path: string, body: object): Promise<T> {
  return ask<T>(path, undefined, { method, headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });
}

export const changeDetails = (name: string, details: Partial<Details>) => change<Details>('PATCH', `${capture(name)}/details`, details);
export const setMark = (name: string, mark: Mark) => change('POST', `${capture(name)}/marks`, mark);
export const removeMark = (name: string, mark: Mark) => change('DELETE', `${capture(name)}/marks`, mark);

export function askOverview(name: string, from_s: number, to_s: number, bins: number, signal?: AbortSignal): Promise<Overview> {
  const question = new URLSearchParams({ from_s: from_s.toFixed(6), to_s: to_s.toFixed(6), bins: String(bins) });
  return ask<Overview>(`${capture(name)}/overview?${question.toString()}`, signal);
}
