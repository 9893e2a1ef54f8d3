// Who may ask: only pages of this server, on the address that it listens on. A
// page from elsewhere that points its own name at 127.0.0.1 still sends its own
// name as Host, and its own address as Origin.

import type { RequestHandler } from 'express';
import { RequestProblem } from './problem.ts';

const LOOPBACK_NAMES = ['127.0.0.1', 'localhost', '[::1]'];

/** @param port asked at each request, since port 0 is only known once listening */
export function guard(port: () => number): RequestHandler {
  return (request, _response, next) => {
    const allowed = LOOPBACK_NAMES.flatMap((name) => [`${name}:${port()}`, ...(port() === 80 ? [name] : [])]);
    const host = request.headers.host?.toLowerCase() ?? '';
    if (!allowed.includes(host)) {
      throw new RequestProblem(403, 'foreign-host', `This server answers on http://127.0.0.1:${port()}/ only; open that address.`);
    }
    const origin = request.headers.origin;
    if (origin !== undefined && !allowed.some((name) => origin.toLowerCase() === `http://${name}`)) {
      throw new RequestProblem(403, 'foreign-origin', 'Requests from pages of another address are refused.');
    }
    const site = request.headers['sec-fetch-site'];
    if (site === 'cross-site' && request.path.startsWith('/api/')) {
      throw new RequestProblem(403, 'foreign-site', 'Requests from pages of another site are refused.');
    }
    next();
  };
}
