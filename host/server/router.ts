// Makes an express router of a list of routes: checks what comes in by their schemas, and
// refuses what does not fit with the right status.

import express from 'express';
import type { ErrorRequestHandler, RequestHandler } from 'express';
import type { z } from 'zod';
import { askerOf } from './asker.ts';
import { isFromLan } from './doors.ts';
import { Json } from './json.ts';
import { BODY_BYTES_MAX } from '../contract/limits.ts';
import { RequestProblem } from './problem.ts';
import type { Method, Route } from './route.ts';

/**
 * @param checksAnswers whether what goes out is held against its schema too: for tests, since it takes longer than most
 * answers
 */
export function routerOf(routes: readonly Route[], checksAnswers = false): express.Router {
  const router = express.Router({ caseSensitive: true, strict: true });
  router.use((_request, response, next) => {
    response.set('Cache-Control', 'no-store');
    next();
  });
  for (const path of new Set(routes.map((route) => route.path))) {
    const here = routes.filter((route) => route.path === path);
    for (const route of here) router[route.method](path, ...gates(route), handlerOf(route, checksAnswers));
    router.all(path, refuseMethod(here.map(({ method }) => method)));
  }
  router.use(() => {
    throw new RequestProblem(404, 'no-answer', 'There is no such question; /api tells which there are.');
  });
  return router;
}

function refuseMethod(methods: readonly Method[]): RequestHandler {
  const allowed = [
    ...(methods.includes('get') ? ['GET', 'HEAD'] : []),
    ...methods.filter((method) => method !== 'get').map((method) => method.toUpperCase()),
  ].join(', ');
  return (request, response) => {
    response.set('Allow', allowed);
    throw new RequestProblem(405, 'method', `${request.method} is not answered here; it takes ${allowed}.`);
  };
}

function gates(route: Route): RequestHandler[] {
  const gates: RequestHandler[] = [];
  if (route.hereOnly) gates.push(onlyHere);
  if (route.body !== null) {
    const limit = route.bodyBytes_max ?? BODY_BYTES_MAX;
    gates.push(
      ownPageOnly,
      jsonOnly,
      announced(limit),
      express.json({ limit, inflate: false, type: 'application/json' }),
    );
  }
  return gates;
}

const onlyHere: RequestHandler = (request, _response, next) => {
  if (isFromLan(request))
    throw new RequestProblem(403, 'only-here', 'This is answered on the computer that runs nightdraw alone.');
  next();
};

/** A browser names the page's address with every write; that it is ours, the guard has seen. */
const ownPageOnly: RequestHandler = (request, _response, next) => {
  if (request.headers.origin === undefined)
    throw new RequestProblem(403, 'no-origin', "A change needs the header Origin with this server's own address.");
  next();
};

/** No form of another site can send this type without asking first. */
const jsonOnly: RequestHandler = (request, _response, next) => {
  if (!/^application\/json\s*(;|$)/i.test(request.headers['content-type'] ?? '')) {
    throw new RequestProblem(
      415,
      'not-json',
      'A change is sent as application/json; where there is nothing to say, as {}.',
    );
  }
  next();
};

/** The parser reads a body that is too large to its end before it says so; here it is refused by its length, unread. */
function announced(limit: number): RequestHandler {
  return (request, _response, next) => {
    const { 'content-length': length, 'transfer-encoding': coding } = request.headers;
    if (length === undefined && coding !== undefined)
      throw new RequestProblem(411, 'no-length', 'What is sent has to say its length.');
    if (Number(length ?? 0) > limit) throw tooLarge(limit);
    next();
  };
}

const tooLarge = (limit: number) =>
  new RequestProblem(413, 'too-large', `That is more than ${limit / 1024} KB; shorten it.`);

function handlerOf(route: Route, checksAnswers: boolean): RequestHandler {
  return async (request, response) => {
    const question = checked(route.question, request.query, 'bad-question', 'the question');
    const body = route.body === null ? null : checked(route.body, request.body, 'bad-body', 'what was sent');
    const value = await route.handle({
      params: request.params as Record<string, string>,
      question,
      body,
      asker: askerOf(request, response),
      request,
      response,
    });
    if (route.answer === null) return;
    if (value instanceof Json) {
      response.status(route.status).type('json').send(Buffer.from(value.bytes.buffer));
      return;
    }
    if (checksAnswers) requireFit(route.answer, value);
    response.status(route.status).json(value);
  };
}

function requireFit(schema: z.ZodType, value: unknown): void {
  const result = schema.safeParse(value);
  if (result.success) return;
  const issue = result.error.issues[0]!;
  throw new Error(`an answer does not fit its schema: ${issue.path.join('.')}: ${issue.message}`);
}

/** @throws RequestProblem 400 naming each part that is wrong */
function checked(schema: z.ZodType, value: unknown, code: string, whole: string): unknown {
  const result = schema.safeParse(value);
  if (result.success) return result.data;
  const told = result.error.issues.map(
    ({ path, message }) => `${path.length === 0 ? whole : path.join('.')}: ${message}`,
  );
  throw new RequestProblem(400, code, told.join('. '));
}

/** Turns whatever was thrown into a status and a sentence; what nobody foresaw is also a line in the log. */
export function answerProblem(log: (line: string) => void): ErrorRequestHandler {
  return (error: unknown, request, response, next) => {
    if (response.headersSent) {
      next(error);
      return;
    }
    // Hundreds that leave in the middle of what they send are not worth an answer each.
    if (request.socket.destroyed) return;
    const known = asProblem(error);
    if (known === null)
      log(`${request.method} ${request.path}: ${error instanceof Error ? error.message : String(error)}`);
    const { status, code, message, complaints } =
      known ?? new RequestProblem(500, 'fault', 'The server met a fault of its own; its terminal says more.');
    // What is left of a body that was refused is not read: the connection would carry it as the next request.
    if (!request.complete) response.set('Connection', 'close');
    response.status(status).json({ error: { code, message, ...(complaints !== undefined && { complaints }) } });
  };
}

/** By the `type` that express' body parser gives its errors. */
const BODY_TROUBLE: Record<string, [number, string, string]> = {
  'entity.parse.failed': [400, 'bad-body', 'What was sent is no JSON.'],
  'charset.unsupported': [415, 'not-json', 'JSON is sent as UTF-8.'],
  'encoding.unsupported': [415, 'not-json', 'What is sent is not compressed.'],
};

/** Ours as it is; express' own (a malformed %-sequence in a path, say) by its status. */
function asProblem(error: unknown): RequestProblem | null {
  if (error instanceof RequestProblem) return error;
  const { status, type, limit } = (error ?? {}) as { status?: unknown; type?: unknown; limit?: unknown };
  if (type === 'entity.too.large') return tooLarge(Number(limit));
  const body = typeof type === 'string' ? BODY_TROUBLE[type] : undefined;
  if (body !== undefined) return new RequestProblem(...body);
  if (typeof status !== 'number' || status < 400 || status > 499) return null;
  return new RequestProblem(status, 'bad-request', 'The request cannot be read.');
}
