// What one connection may ask at a time. A browser sends the next question on a connection
// when the last is answered; whoever sends thousands and reads none would fill the memory
// with answers and keep the others waiting.

import type { RequestHandler } from 'express';
import type { Socket } from 'node:net';
import { UNDER_WAY_MAX } from './limits.ts';

/** Ends a connection with more questions under way; nobody reads a refusal there either. */
export function fairShare(): RequestHandler {
  const underWay = new WeakMap<Socket, number>();
  return (request, response, next) => {
    const { socket } = request;
    const now = (underWay.get(socket) ?? 0) + 1;
    underWay.set(socket, now);
    response.once('close', () => underWay.set(socket, (underWay.get(socket) ?? 1) - 1));
    if (now > UNDER_WAY_MAX) socket.destroy();
    else next();
  };
}
