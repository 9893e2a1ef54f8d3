// The server of the morning view: the page, and captures and findings as JSON, on
// the loopback address alone.

import express from 'express';
import type { ErrorRequestHandler, RequestHandler, Response } from 'express';
import helmet from 'helmet';
import { existsSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import type { Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { z } from 'zod';
import type { Told } from '../analysis/meaning/settings.ts';
import { captureInfo, captureList, findingsAnswer, noQuestion, overviewAnswer, overviewQuestion } from './api.ts';
import { guard } from './guard.ts';
import { Library } from './library.ts';
import type { LibraryParts } from './library.ts';
import { RequestProblem } from './problem.ts';
import { analyseSource, openSource } from './source.ts';

export interface ServeOptions {
  /** Folder of captures and CSV files. */
  dir: string;
  /** TCP port; 0 takes any free one. */
  port: number;
  /** Folder of the built page. */
  pageDir: string;
  /** Takes one line for each fault of the server itself. */
  log: (line: string) => void;
  /** The workshop's settings that the nights are judged by; the usual where it is not given. */
  workshop?: Told;
  /** Stands in for the real reader and analysis. */
  parts?: Pick<LibraryParts, 'openSource' | 'analyse'>;
}

export interface Serving {
  url: string;
  close(): Promise<void>;
}

/**
 * Starts serving.
 * @throws Error in one sentence where the folder, the page or the port is not to be had
 */
export async function serve(options: ServeOptions): Promise<Serving> {
  if (!statSync(options.dir, { throwIfNoEntry: false })?.isDirectory()) {
    throw new Error(`'${options.dir}' is no folder; name the folder of your captures with --dir`);
  }
  if (!existsSync(join(options.pageDir, 'index.html'))) {
    throw new Error(`the page is not built (no index.html in '${options.pageDir}'); run npm run build`);
  }
  const library = new Library({ dir: options.dir, now_ms: () => performance.now(), ...(options.parts ?? { openSource, analyse: (source) => analyseSource(source, options.workshop) }) });
  let port = options.port;
  const server = createServer(application(library, options, () => port));
  // Slow or stuck clients give their place back.
  server.headersTimeout = 10_000;
  server.requestTimeout = 30_000;
  port = await listen(server, options.port);
  return {
    url: `http://127.0.0.1:${port}/`,
    close: async () => {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      server.closeAllConnections();
      await closed;
      await library.close();
    },
  };
}

function application(library: Library, options: ServeOptions, port: () => number): express.Express {
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.use(headers());
  app.use(guard(port));
  app.use('/api', api(library));
  app.use(express.static(options.pageDir, { dotfiles: 'ignore', redirect: false, maxAge: 0 }));
  app.use(() => {
    throw new RequestProblem(404, 'no-page', 'There is nothing at this address; the view is at /.');
  });
  app.use(answerProblem(options.log));
  return app;
}

/** Everything comes from this server; no script, style or frame from elsewhere or within the page's text. */
function headers(): RequestHandler {
  return helmet({
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        imgSrc: ["'self'", 'data:'],
        connectSrc: ["'self'"],
        baseUri: ["'none'"],
        formAction: ["'none'"],
        frameAncestors: ["'none'"],
      },
    },
    crossOriginResourcePolicy: { policy: 'same-origin' },
    // The server speaks plain HTTP on loopback; promising HTTPS would lock its own page out.
    strictTransportSecurity: false,
  });
}

function api(library: Library): express.Router {
  const router = express.Router({ caseSensitive: true, strict: true });
  router.use((request, response, next) => {
    if (request.method !== 'GET' && request.method !== 'HEAD') {
      throw new RequestProblem(405, 'method', `${request.method} is not answered here; captures are only read.`);
    }
    response.set('Cache-Control', 'no-store');
    next();
  });
  router.get('/captures', async (request, response) => {
    ask(noQuestion, request.query);
    answer(response, captureList, { captures: await library.list() });
  });
  router.get('/captures/:name', async (request, response) => {
    ask(noQuestion, request.query);
    answer(response, captureInfo, await library.info(request.params.name));
  });
  router.get('/captures/:name/findings', async (request, response) => {
    ask(noQuestion, request.query);
    answer(response, findingsAnswer, await library.findings(request.params.name));
  });
  router.get('/captures/:name/overview', async (request, response) => {
    const { from_s, to_s, bins } = ask(overviewQuestion, request.query);
    answer(response, overviewAnswer, await library.overview(request.params.name, from_s, to_s, bins));
  });
  router.use(() => {
    throw new RequestProblem(404, 'no-answer', 'There is no such question; /api/captures lists the captures.');
  });
  return router;
}

/** @throws RequestProblem 400 naming the parameter that is wrong */
function ask<T extends z.ZodType>(schema: T, query: unknown): z.output<T> {
  const result = schema.safeParse(query);
  if (result.success) return result.data;
  const issue = result.error.issues[0]!;
  const where = issue.path.length === 0 ? 'the question' : issue.path.join('.');
  throw new RequestProblem(400, 'bad-question', `${where}: ${issue.message}`);
}

/** Sends what fits its schema; what does not is our own fault, and says so in the log. */
function answer<T extends z.ZodType>(response: Response, schema: T, value: z.input<T>): void {
  const result = schema.safeParse(value);
  if (!result.success) {
    const issue = result.error.issues[0]!;
    throw new Error(`an answer does not fit its schema: ${issue.path.join('.')}: ${issue.message}`);
  }
  response.json(value);
}

function answerProblem(log: (line: string) => void): ErrorRequestHandler {
  return (error: unknown, request, response, next) => {
    if (response.headersSent) {
      next(error);
      return;
    }
    const known = asProblem(error);
    if (known === null) log(`${request.method} ${request.path}: ${error instanceof Error ? error.message : String(error)}`);
    const { status, code, message } = known ?? new RequestProblem(500, 'fault', 'The server met a fault of its own; its terminal says more.');
    response.status(status).json({ error: { code, message } });
  };
}

/** Ours as it is; express' own (a malformed %-sequence in a path, say) by its status. */
function asProblem(error: unknown): RequestProblem | null {
  if (error instanceof RequestProblem) return error;
  const status = error instanceof Error && 'status' in error ? error.status : undefined;
  if (typeof status !== 'number' || status < 400 || status > 499) return null;
  return new RequestProblem(status, 'bad-request', 'The address cannot be read.');
}

function listen(server: Server, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      reject(new Error(
        error.code === 'EADDRINUSE' ? `port ${port} is in use; choose another with --port`
        : error.code === 'EACCES' ? `port ${port} needs more rights; choose one from 1024 up with --port`
        : error.message,
      ));
    });
    server.listen(port, '127.0.0.1', () => resolve((server.address() as AddressInfo).port));
  });
}
