// The server of the morning view: the page, and captures, findings and recordings as
// JSON, on the loopback address, and on the local network where it was asked for.

import express from 'express';
import type { RequestHandler } from 'express';
import helmet from 'helmet';
import { createHash } from 'node:crypto';
import { existsSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import type { RequestListener, Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { z } from 'zod';
import type { Told } from '../contract/settings.ts';
import { noQuestion } from '../contract/api.ts';
import { describe } from './description.ts';
import { noteFromLan } from './doors.ts';
import { guard, lanGate, ownSiteOnly } from './guard.ts';
import type { Addresses } from './guard.ts';
import { Entry } from './lan/entry.ts';
import { lanRoutes } from './lan/routes.ts';
import type { Lan } from './lan/routes.ts';
import { Library } from './library.ts';
import { CONNECTIONS_MAX, PATIENCE } from '../contract/limits.ts';
import type { Patience } from '../contract/limits.ts';
import type { HostClock } from '../contract/time.ts';
import { Changes } from './live/changes.ts';
import { ProofDesk } from './live/proof-desk.ts';
import { Recordings } from './live/recordings.ts';
import { Unattended } from './live/unattended.ts';
import type { UnattendedParts } from './live/unattended.ts';
import type { Workbench } from './live/workbench.ts';
import { RequestProblem } from './problem.ts';
import { inThreads } from './reading/crew.ts';
import type { Readers } from './reading/desk.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';
import { answerProblem, routerOf } from './router.ts';
import { captureRoutes } from './routes-captures.ts';
import { fleetRoutes } from './routes-fleet.ts';
import { liveRoutes } from './routes-live.ts';
import { proofRoutes } from './routes-proof.ts';
import { Reports } from './reports.ts';
import type { ReportMaker } from './reports.ts';
import { reportRoutes } from './routes-report.ts';
import { fairShare } from './share.ts';
import { Shelf } from './shelf/shelf.ts';

export interface ServeOptions {
  /** This computer's clock and timers. */
  clock: HostClock;
  /** Folder of captures and CSV files. */
  dir: string;
  /** TCP port; 0 takes any free one. */
  port: number;
  /** Folder of the built page. */
  pageDir: string;
  /** Takes one line for each fault of the server itself. */
  log: (line: string) => void;
  /** Version of the program: another one reads the captures anew. */
  software?: string;
  /** The workshop's settings that the nights are judged by; the usual where it is not given. */
  workshop?: Told;
  /** This computer's key for the marks of cars in the index; absent: cars are told apart by their jobs. */
  carKey?: string | null;
  /** The boards at this computer; absent: captures are looked at, none are recorded. */
  bench?: Workbench;
  /** Known boards are recorded unasked; absent: only when somebody begins it. */
  unattended?: UnattendedParts;
  /**
   * This computer's address on the local network, where other devices may come in by a code; absent: loopback alone.
   */
  lan?: string;
  /** Told when the code of the local network is another: at first, and after each use. */
  onCode?: (url: string) => void;
  /** Makes reports for the job file; absent: none can be asked for. */
  makeReport?: ReportMaker;
  /** Stand in for the real reader and analysis. */
  readers?: Readers;
  /** Whether each answer is held against its schema: for tests. */
  checksAnswers?: boolean;
  patience?: Patience;
}

export interface Serving {
  url: string;
  /** The address on the local network, null without one. */
  lanUrl: string | null;
  close(): Promise<void>;
}

/**
 * Starts serving.
 * @throws Error in one sentence where the folder, the page or the port is not to be had
 */
// oxlint-disable-next-line max-lines-per-function -- one wiring of the parts, in the order in which they start
export async function serve(options: ServeOptions): Promise<Serving> {
  if (!statSync(options.dir, { throwIfNoEntry: false })?.isDirectory()) {
    throw new Error(`'${options.dir}' is no folder; name the folder of your captures with --dir`);
  }
  if (!existsSync(join(options.pageDir, 'index.html'))) {
    throw new Error(`the page is not built (no index.html in '${options.pageDir}'); run npm run build`);
  }
  const { dir, log, workshop = {}, bench = null, lan = null, patience = PATIENCE } = options;
  const { clock } = options;
  const now_ms = () => clock.now_us() / 1000;
  const readers = options.readers ?? inThreads(log);
  const carKey = options.carKey ?? null;
  const keyed = carKey === null ? '' : createHash('sha256').update(`which key ${carKey}`).digest('hex').slice(0, 8);
  const shelf = new Shelf(dir, JSON.stringify([options.software ?? '', workshop, keyed]), now_ms);
  const library = new Library({ dir, shelf, now_ms, readers, workshop, carKey });
  const reports = new Reports(dir, options.makeReport ?? null);
  const recordings = new Recordings({ dir, shelf, bench, readers, clock, log, told: () => changes.poke() });
  const proofs = new ProofDesk(bench, recordings);
  const changes = new Changes(dir, shelf, recordings, clock);
  const unattended =
    options.unattended === undefined ? null : new Unattended(options.unattended, recordings, clock, log);
  let port = options.port;
  const open: Lan | null =
    lan === null ? null : openLan(new Entry(now_ms), () => `http://${lan}:${port}/enter`, options.onCode);
  const routes = describedToo([
    ...captureRoutes(library),
    ...fleetRoutes(library),
    ...reportRoutes(reports),
    ...liveRoutes(recordings, changes),
    ...proofRoutes(proofs),
    ...lanRoutes(open),
  ]);
  const app = application(routes, options, { port: () => port, lan }, open);
  const servers: Server[] = [];
  const close = async () => {
    const closed = servers.map((server) => new Promise<void>((resolve) => server.close(() => resolve())));
    // Recordings first: what they hold goes to the disk whatever clients do.
    changes.close();
    await Promise.all([unattended?.close(), recordings.close(), proofs.close()]);
    servers.forEach((server) => server.closeAllConnections());
    await Promise.all(closed);
    await Promise.all([library.close(), reports.close()]);
    await shelf.close();
  };
  try {
    servers.push(await listening(app, patience, port, '127.0.0.1'));
    port = (servers[0]!.address() as AddressInfo).port;
    if (lan !== null) {
      servers.push(
        await listening(
          (request, response) => {
            noteFromLan(request);
            app(request, response);
          },
          patience,
          port,
          lan,
        ),
      );
    }
  } catch (error) {
    await close();
    throw error;
  }
  open?.entered();
  void recordings
    .goOn()
    .catch((error: unknown) => log(`unfinished captures were not looked at: ${(error as Error).message}`))
    .then(() => unattended?.start());
  return { url: `http://127.0.0.1:${port}/`, lanUrl: lan === null ? null : `http://${lan}:${port}/`, close };
}

function openLan(entry: Entry, url: () => string, onCode: ServeOptions['onCode']): Lan {
  return { entry, url, entered: () => onCode?.(`${url()}#${entry.code}`) };
}

/** The description is one of the routes that it describes. */
function describedToo(routes: Route[]): Route[] {
  const all = [...routes];
  all.push(
    route({
      method: 'get',
      path: '/',
      about: 'This description.',
      question: noQuestion,
      answer: z.record(z.string(), z.unknown()),
      handle: () => Promise.resolve({ ...describe(all) }),
    }),
  );
  return all;
}

function application(
  routes: readonly Route[],
  { pageDir, log, checksAnswers = false }: ServeOptions,
  addresses: Addresses,
  lan: Lan | null,
): express.Express {
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.use(fairShare());
  app.use(headers());
  app.use(guard(addresses));
  if (lan !== null) app.use(lanGate(lan.entry));
  app.use('/api', ownSiteOnly, routerOf(routes, checksAnswers));
  app.use(express.static(pageDir, { dotfiles: 'ignore', redirect: false, maxAge: 0 }));
  app.use(() => {
    throw new RequestProblem(404, 'no-page', 'There is nothing at this address; the view is at /.');
  });
  app.use(answerProblem(log));
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
        // The report that is looked at before it is kept.
        frameSrc: ["'self'"],
        manifestSrc: ["'self'"],
        workerSrc: ["'self'"],
        baseUri: ["'none'"],
        formAction: ["'none'"],
        frameAncestors: ["'none'"],
      },
    },
    crossOriginResourcePolicy: { policy: 'same-origin' },
    // The server speaks plain HTTP; promising HTTPS would lock its own page out.
    strictTransportSecurity: false,
  });
}

function listening(app: RequestListener, patience: Patience, port: number, address: string): Promise<Server> {
  const server = createServer(
    {
      headersTimeout: patience.headers_ms,
      requestTimeout: patience.request_ms,
      connectionsCheckingInterval: patience.check_ms,
    },
    app,
  );
  server.maxConnections = CONNECTIONS_MAX;
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      reject(
        new Error(
          error.code === 'EADDRINUSE'
            ? `port ${port} is in use; choose another with --port`
            : error.code === 'EACCES'
              ? `port ${port} needs more rights; choose one from 1024 up with --port`
              : error.code === 'EADDRNOTAVAIL'
                ? `${address} is no address of this computer; see --lan-address`
                : error.message,
        ),
      );
    });
    server.listen(port, address, () => resolve(server));
  });
}
