// One question that the server answers, as a value: the router and the description of
// the interface are both made from a list of these, so that neither can know more.

import type { Request, Response } from 'express';
import type { z } from 'zod';
import type { Asker } from './asker.ts';
import type { Json } from './json.ts';

export type Method = 'get' | 'post' | 'patch' | 'delete';

/** What came with a question, checked. */
export interface Asked<Q extends z.ZodType, B extends z.ZodType> {
  /** The parts of the path, as they were decoded: not checked. */
  params: Record<string, string>;
  question: z.output<Q>;
  body: z.output<B>;
  asker: Asker;
  request: Request;
  response: Response;
}

export interface Route {
  method: Method;
  /** Below /api, its parts as `:name`. */
  path: string;
  /** One sentence for whoever reads the description. */
  about: string;
  question: z.ZodType;
  /** Of what is sent with POST, PATCH and DELETE; null for GET. */
  body: z.ZodType | null;
  /** Of the body; absent: what anybody types is shorter. */
  bodyBytes_max?: number;
  /**
   * Shape of the JSON that comes back; null where `handle` answers by itself. What comes written already is not held
   * against it.
   */
  answer: z.ZodType | null;
  /** Of a good answer. */
  status: number;
  /** Media type of what `handle` sends by itself, and the shapes of its events by name. */
  sends?: { type: string; events?: Record<string, z.ZodType> };
  /** For the page on this computer alone, whatever the door. */
  hereOnly: boolean;
  handle: (asked: Asked<z.ZodType, z.ZodType>) => Promise<unknown>;
}

type Draft<Q extends z.ZodType, B extends z.ZodType, A extends z.ZodType> = Pick<Route, 'method' | 'path' | 'about'> &
  Partial<Pick<Route, 'status' | 'hereOnly' | 'sends' | 'bodyBytes_max'>> & {
    question: Q;
    body?: B;
    answer: A | null;
    handle: (asked: Asked<Q, B>) => Promise<A extends z.ZodType ? z.input<A> | Json : void>;
  };

/** Lets the compiler hold a route's handler to its schemas. */
export function route<Q extends z.ZodType, A extends z.ZodType, B extends z.ZodType = z.ZodNull>(
  draft: Draft<Q, B, A>,
): Route {
  return { status: 200, hereOnly: false, ...draft, body: draft.body ?? null, handle: draft.handle };
}
