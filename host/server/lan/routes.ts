// The way in from the local network: the code for the page on this computer, and the
// exchange of its token for a cookie.

import { z } from 'zod';
import { done, lanState, noQuestion } from '../../contract/api.ts';
import { RequestProblem } from '../problem.ts';
import { route } from '../route.ts';
import type { Route } from '../route.ts';
import { svgOf } from './code.ts';
import { setCookie } from './entry.ts';
import type { Entry } from './entry.ts';

export interface Lan {
  entry: Entry;
  /** Where the other devices find this server, with the path of the entrance: `http://192.168.1.5:4310/enter`. */
  url: () => string;
  /** Called when a device came in: the code shown until then is worthless. */
  entered: () => void;
}

/** @param lan null: the server listens on this computer alone */
// oxlint-disable-next-line max-lines-per-function -- one list of doors, each a few lines
export function lanRoutes(lan: Lan | null): Route[] {
  const on = () => {
    if (lan === null)
      throw new RequestProblem(
        404,
        'no-lan',
        "This server answers on this computer alone; 'nightdraw serve --lan' lets a tablet in.",
      );
    return lan;
  };
  return [
    route({
      method: 'get',
      path: '/lan',
      about: 'Whether tablets and phones may come in, and by which address, good once.',
      hereOnly: true,
      question: noQuestion,
      answer: lanState,
      handle: () =>
        Promise.resolve(
          lan === null
            ? { on: false as const }
            : { on: true as const, url: `${lan.url()}#${lan.entry.code}`, devices: lan.entry.deviceCount },
        ),
    }),
    route({
      method: 'get',
      path: '/lan/code.svg',
      about: 'That address as a code to scan.',
      hereOnly: true,
      question: noQuestion,
      answer: null,
      sends: { type: 'image/svg+xml' },
      handle: ({ response }) => {
        const { url, entry } = on();
        response.type('image/svg+xml').send(svgOf(`${url()}#${entry.code}`));
        return Promise.resolve();
      },
    }),
    route({
      method: 'post',
      path: '/lan/renew',
      about: 'Makes a new code; the one shown until now is worthless then.',
      hereOnly: true,
      question: noQuestion,
      body: z.strictObject({}),
      answer: done,
      handle: () => {
        on().entry.renew();
        return Promise.resolve({ done: true } as const);
      },
    }),
    route({
      method: 'post',
      path: '/lan/enter',
      about: 'Takes the token of the code for a cookie.',
      question: noQuestion,
      body: z.strictObject({ token: z.string().max(64) }),
      answer: done,
      handle: ({ body, request, response }) => {
        const { entry, entered } = on();
        response.set('Set-Cookie', setCookie(entry.enter(body.token, request.socket.remoteAddress ?? '')));
        entered();
        return Promise.resolve({ done: true } as const);
      },
    }),
  ];
}
