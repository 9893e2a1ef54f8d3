// What one connection may ask at a time. A browser sends the next question on a connection
// when the last is answered; whoever sends them in a row is answered one after the other, so
// that every connection has its turn, and whoever sends thousands and reads none is cut off:
// the answers would fill the memory.

import type { RequestHandler } from 'express';
import type { Socket } from 'node:net';
import { UNDER_WAY_MAX } from './limits.ts';

interface Line {
  /** Questions that came and are not answered; one of them is being answered. */
  underWay: number;
  waiting: (() => void)[];
}

/** Lets one question of each connection in at a time, and ends a connection that sends too many. */
export function fairShare(): RequestHandler {
  const lines = new WeakMap<Socket, Line>();
  return (request, response, next) => {
    const { socket } = request;
    const line = lines.get(socket) ?? { underWay: 0, waiting: [] };
    lines.set(socket, line);
    line.underWay++;
    response.once('close', () => {
      line.underWay--;
      // In a turn of its own: the others come between.
      const following = line.waiting.shift();
      if (following !== undefined && !socket.destroyed) setImmediate(following);
    });
    // Nobody reads a refusal there.
    if (line.underWay > UNDER_WAY_MAX) socket.destroy();
    else if (line.underWay > 1) line.waiting.push(next);
    else next();
  };
}
