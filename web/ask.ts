// Questions to the server. Answers are typed by the server's own schemas; a refusal
// becomes an error that carries the server's sentence.

import type { Findings } from '../host/contract/findings.ts';
import type {
  NightInfo,
  CaptureList,
  Details,
  DetailsChange,
  Fleet,
  JobFolder,
  MarkOrder,
  Overview,
  Problem,
  RepairAnswer,
} from '../host/contract/api.ts';

export class AskError extends Error {
  /** Null where no server answered. */
  readonly status: number | null;
  /** Where several things were sent: what is wrong with which, from 0. */
  readonly complaints: readonly { at: number; text: string }[];

  constructor(status: number | null, message: string, complaints: AskError['complaints'] = []) {
    super(message);
    this.status = status;
    this.complaints = complaints;
  }
}

/** Nobody answers at all. */
export const NOT_RUNNING =
  'nightdraw does not answer: it is not running. Start it (nightdraw serve); this page goes on by itself then.';

/** A sentence for whatever went wrong. */
export const wordsOf = (error: unknown) => (error instanceof Error ? error.message : String(error));

/**
 * What the reader wants judged otherwise than the capture and the workshop say, as it was typed; the server checks it.
 */
export type Asked = Partial<
  Record<'allowance_mA' | 'battery_type' | 'capacity_Ah' | 'reserve_min' | 'dead_after_days', string>
>;

async function ask<T>(path: string, signal?: AbortSignal, order: RequestInit = {}): Promise<T> {
  return (await (await answered(path, signal, order)).json()) as T;
}

/** A good answer, whatever is in it. */
async function answered(path: string, signal?: AbortSignal, order: RequestInit = {}): Promise<Response> {
  let response: Response;
  try {
    response = await fetch(`api/${path}`, { ...order, ...(signal === undefined ? {} : { signal }) });
  } catch (error) {
    if (signal?.aborted === true) throw error;
    throw new AskError(null, NOT_RUNNING);
  }
  if (response.ok) return response;
  const problem = (await response.json().catch(() => null)) as Problem | null;
  throw new AskError(response.status, problem?.error.message ?? `The server answered with status ${response.status}.`);
}

const capture = (name: string) => `captures/${encodeURIComponent(name)}`;

export function askList({ search = '', count }: { search?: string; count?: number } = {}): Promise<CaptureList> {
  const question = new URLSearchParams({
    ...(search === '' ? {} : { search }),
    ...(count === undefined ? {} : { count: String(count) }),
  }).toString();
  return ask<CaptureList>(`captures${question === '' ? '' : `?${question}`}`);
}
/** @param count of cars */
export const askFleet = (count: number) => ask<Fleet>(`fleet?count=${count}`);
export const askInfo = (name: string) => ask<NightInfo>(capture(name));
export const askSmall = (name: string) => ask<Overview>(`${capture(name)}/small`);
export const askDetails = (name: string) => ask<Details>(`${capture(name)}/details`);

const order = (method: string, body: unknown): RequestInit => ({
  method,
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(body),
});

export const changeDetails = (name: string, change: DetailsChange) =>
  ask<Details>(`${capture(name)}/details`, undefined, order('PATCH', change));
export const setMark = (name: string, mark: MarkOrder) =>
  ask<unknown>(`${capture(name)}/marks`, undefined, order('POST', mark));
export const takeMark = (name: string, mark: MarkOrder) =>
  ask<unknown>(`${capture(name)}/marks`, undefined, order('DELETE', mark));

export function askFindings(name: string, asked: Asked = {}): Promise<Findings> {
  const question = new URLSearchParams(asked).toString();
  return ask<Findings>(`${capture(name)}/findings${question === '' ? '' : `?${question}`}`);
}

/** @param before the night before the repair */
export const askRepair = (name: string, before: string, asked: Asked) =>
  ask<RepairAnswer>(`${capture(name)}/repair?${new URLSearchParams({ before, ...asked }).toString()}`);

export function askOverview(
  name: string,
  from_s: number,
  to_s: number,
  bins: number,
  signal?: AbortSignal,
): Promise<Overview> {
  const question = new URLSearchParams({ from_s: from_s.toFixed(6), to_s: to_s.toFixed(6), bins: String(bins) });
  return ask<Overview>(`${capture(name)}/overview?${question.toString()}`, signal);
}

/** @param question format, paper and what it is judged by, as texts; the server checks them */
export async function askReport(
  name: string,
  question: Record<string, string>,
): Promise<{ fileName: string; file: Blob }> {
  const response = await answered(`${capture(name)}/report?${new URLSearchParams(question).toString()}`);
  return {
    fileName: fileNameOf(response.headers.get('content-disposition') ?? '') ?? `report.${question['format'] ?? 'pdf'}`,
    file: await response.blob(),
  };
}

/** Where the same report is looked at as a page. */
export const reportAddress = (name: string, question: Record<string, string>) =>
  `api/${capture(name)}/report?${new URLSearchParams({ ...question, format: 'html', shown: 'yes' }).toString()}`;

export const makeJobFolder = (name: string, question: Record<string, string>) =>
  ask<JobFolder>(
    `${capture(name)}/job-folder?${new URLSearchParams(question).toString()}`,
    undefined,
    order('POST', {}),
  );

/** As RFC 6266 has it: the long form, which names any letter, before the short one. */
function fileNameOf(disposition: string): string | null {
  const long = /filename\*=UTF-8''([^;]+)/i.exec(disposition)?.[1];
  if (long !== undefined) return decodeURIComponent(long);
  return /filename="?([^";]+)"?/i.exec(disposition)?.[1] ?? null;
}
