// Proving a board before its first night.

import { z } from 'zod';
import { noQuestion, proofAnswer, proofNow, proofOrder } from '../contract/api.ts';
import type { ProofDesk } from './live/proof-desk.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

export function proofRoutes(desk: ProofDesk): Route[] {
  return [
    route({
      method: 'get',
      path: '/proof',
      about: 'The board that is being proved, or was last: the sentence that waits for an answer.',
      question: noQuestion,
      answer: proofNow,
      handle: () => Promise.resolve(desk.now()),
    }),
    route({
      method: 'post',
      path: '/proof',
      about: 'Begins to prove a board at a port that was found.',
      status: 201,
      question: noQuestion,
      body: proofOrder,
      answer: proofNow,
      handle: ({ body }) => Promise.resolve(desk.begin(body)),
    }),
    route({
      method: 'post',
      path: '/proof/answer',
      about: 'What was done or read at the board; one to a sentence that is gone changes nothing.',
      question: noQuestion,
      body: proofAnswer,
      answer: proofNow,
      handle: ({ body }) => Promise.resolve(desk.answer(body)),
    }),
    route({
      method: 'post',
      path: '/proof/leave',
      about: 'Ends it before its end; nothing is kept in the board.',
      question: noQuestion,
      body: z.strictObject({}),
      answer: proofNow,
      handle: () => desk.leave(),
    }),
  ];
}
