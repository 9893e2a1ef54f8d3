// Through which of the server's two addresses a request came: the loopback one, where
// the page on this computer asks, or the one on the local network.

import type { IncomingMessage } from 'node:http';

const fromLan = new WeakSet<IncomingMessage>();

export const noteFromLan = (request: IncomingMessage): void => void fromLan.add(request);

export const isFromLan = (request: IncomingMessage): boolean => fromLan.has(request);
