// Who may ask: only pages of this server, on the addresses that it listens on. A page
// from elsewhere that points its own name at one of them still sends its own name as
// Host, and its own address as Origin. From the local network, only devices that
// scanned the code.

import type { Request, RequestHandler } from 'express';
import { isFromLan } from './doors.ts';
import { ENTER_AGAIN_PAGE, ENTER_CSS, ENTER_PAGE, ENTER_SCRIPT, SCAN_AGAIN } from './lan/enter-page.ts';
import { carriesCookie } from './lan/entry.ts';
import type { Entry } from './lan/entry.ts';
import { RequestProblem } from './problem.ts';

const LOOPBACK_NAMES = ['127.0.0.1', 'localhost', '[::1]'];

export interface Addresses {
  /** Asked at each request, since port 0 is only known once listening. */
  port: () => number;
  /** On the local network; null: this computer alone. */
  lan: string | null;
}

export function guard({ port, lan }: Addresses): RequestHandler {
  return (request, _response, next) => {
    const names = isFromLan(request) ? [lan ?? ''] : LOOPBACK_NAMES;
    const allowed = names.flatMap((name) => [`${name}:${port()}`, ...(port() === 80 ? [name] : [])]);
    const host = request.headers.host?.toLowerCase() ?? '';
    if (!allowed.includes(host)) {
      throw new RequestProblem(
        403,
        'foreign-host',
        `This server answers on http://${isFromLan(request) ? lan : '127.0.0.1'}:${port()}/ only; open that address.`,
      );
    }
    const origin = request.headers.origin;
    if (origin !== undefined && !allowed.some((name) => origin.toLowerCase() === `http://${name}`)) {
      throw new RequestProblem(403, 'foreign-origin', 'Requests from pages of another address are refused.');
    }
    next();
  };
}

/** Before every answer that is no page: mounted where the answers are, however their path is spelt. */
export const ownSiteOnly: RequestHandler = (request, _response, next) => {
  if (!fromOwnPage(request))
    throw new RequestProblem(403, 'foreign-site', 'Requests from pages of another site are refused.');
  next();
};

/**
 * `none`: typed into the address line. Another port of this computer is another page too, though it is the same site.
 */
function fromOwnPage(request: Request): boolean {
  const site = request.headers['sec-fetch-site'];
  return site === undefined || site === 'same-origin' || site === 'none';
}

const ENTER: Record<string, [type: string, text: string]> = {
  '/enter': ['html', ENTER_PAGE],
  '/enter.css': ['css', ENTER_CSS],
  '/enter.js': ['js', ENTER_SCRIPT],
};

/** What a person opens by its address. */
const PAGES = ['/', '/index.html', '/live.html', '/bay.html', '/prove.html', '/fleet.html'];

/** Lets devices of the local network in that have a cookie of ours, and shows all others the way. */
export function lanGate(entry: Entry): RequestHandler {
  return (request, response, next) => {
    if (!isFromLan(request)) return next();
    const reads = request.method === 'GET' || request.method === 'HEAD';
    const entrance = reads ? ENTER[request.path] : undefined;
    if (entrance !== undefined) {
      response.set('Cache-Control', 'no-store').type(entrance[0]).send(entrance[1]);
      return;
    }
    if (request.path === '/api/lan/enter' || entry.knows(request.headers.cookie)) return next();
    // A cookie of ours that is not known any more: the day is over, or the server was started again.
    const wasIn = carriesCookie(request.headers.cookie);
    if (reads && PAGES.includes(request.path)) {
      response
        .status(401)
        .set('Cache-Control', 'no-store')
        .type('html')
        .send(wasIn ? ENTER_AGAIN_PAGE : ENTER_PAGE);
      return;
    }
    throw new RequestProblem(401, 'no-cookie', wasIn ? SCAN_AGAIN : 'Scan the code that the computer shows first.');
  };
}
