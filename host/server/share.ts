// Who is answered next. A browser sends the next question on a connection when the last is
// answered; whoever sends them in a row is answered one after the other, a few of such in
// each turn, so that everybody else comes between; and whoever sends thousands and reads none
// is cut off: the answers would fill the memory.

import type { RequestHandler } from 'express';
import type { Socket } from 'node:net';
import { CALM_AT_ONCE, LOUD_AT_ONCE, UNDER_WAY_MAX } from '../contract/limits.ts';

interface Line {
  /** Questions that came on the connection and are not answered; one of them is being answered, or its turn comes. */
  underWay: number;
  waiting: (() => void)[];
}

interface Entry {
  line: Line;
  socket: Socket;
  go: () => void;
}

/** Lets one question of each connection in at a time, and ends a connection that sends too many. */
export function fairShare(): RequestHandler {
  const lines = new WeakMap<Socket, Line>();
  const arrived: Entry[] = [],
    calm: Entry[] = [],
    loud: Entry[] = [];
  let comes = false;

  const enter = (entry: Entry) => {
    arrived.push(entry);
    if (!comes) setImmediate(turn);
    comes = true;
  };

  function turn(): void {
    // All that a connection sent in a row is known by now.
    for (const entry of arrived.splice(0)) (entry.line.underWay > 1 ? loud : calm).push(entry);
    const now = [...calm.splice(0, CALM_AT_ONCE), ...loud.splice(0, LOUD_AT_ONCE)];
    comes = calm.length + loud.length > 0;
    if (comes) setImmediate(turn);
    for (const { socket, go } of now) if (!socket.destroyed) go();
  }

  return (request, response, next) => {
    const { socket } = request;
    const line = lines.get(socket) ?? { underWay: 0, waiting: [] };
    lines.set(socket, line);
    line.underWay++;
    response.once('close', () => {
      line.underWay--;
      const go = line.waiting.shift();
      if (go !== undefined) enter({ line, socket, go });
    });
    // Nobody reads a refusal there.
    if (line.underWay > UNDER_WAY_MAX) socket.destroy();
    else if (line.underWay > 1) line.waiting.push(next);
    else enter({ line, socket, go: next });
  };
}
