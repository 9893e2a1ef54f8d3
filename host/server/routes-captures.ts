// Questions about the captures in the folder, and changes of what is written in them.

import {
  nightInfo,
  captureList,
  details,
  detailsChange,
  done,
  findingsAnswer,
  findingsQuestion,
  listQuestion,
  mark,
  noQuestion,
  overviewAnswer,
  overviewQuestion,
  repairAnswer,
  repairQuestion,
} from '../contract/api.ts';
import { compareRepair } from '../bay/work/repair.ts';
import type { Library } from './library.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

// oxlint-disable-next-line max-lines-per-function -- one list of doors, each a few lines
export function captureRoutes(library: Library): Route[] {
  const name = (params: Record<string, string>) => params['name']!;
  return [
    route({
      method: 'get',
      path: '/captures',
      about:
        'The captures in the folder, the newest first, each with its verdict as soon as it is analysed; 200 where no count is given.',
      question: listQuestion,
      answer: captureList,
      handle: ({ question }) => library.list(question),
    }),
    route({
      method: 'get',
      path: '/captures/:name',
      about: 'What a capture says of itself.',
      question: noQuestion,
      answer: nightInfo,
      handle: ({ params }) => library.info(name(params)),
    }),
    route({
      method: 'get',
      path: '/captures/:name/findings',
      about: 'What the analysis finds; a setting that is not given is as the capture or the workshop has it.',
      question: findingsQuestion,
      answer: findingsAnswer,
      handle: ({ params, question, asker }) => library.findings(name(params), question, asker),
    }),
    route({
      method: 'get',
      path: '/captures/:name/repair',
      about: 'Whether this night proves the repair against the one before it, both judged by the same settings.',
      question: repairQuestion,
      answer: repairAnswer,
      handle: async ({ params, question: { before, told }, asker }) => {
        const [was, is] = await Promise.all([
          library.findings(before, told, asker),
          library.findings(name(params), told, asker),
        ]);
        const { code, sentence } = compareRepair(was, is);
        return { code, sentence };
      },
    }),
    route({
      method: 'get',
      path: '/captures/:name/overview',
      about: 'Any stretch of it in equal bins. To compare two captures, ask each for its own.',
      question: overviewQuestion,
      answer: overviewAnswer,
      handle: ({ params, question: { from_s, to_s, bins }, asker }) =>
        library.overview(name(params), from_s, to_s, bins, asker),
    }),
    route({
      method: 'get',
      path: '/captures/:name/small',
      about: 'All of it in 120 bins, for a small picture in the list.',
      question: noQuestion,
      answer: overviewAnswer,
      handle: ({ params }) => library.small(name(params)),
    }),
    route({
      method: 'get',
      path: '/captures/:name/details',
      about: 'What it says of its job. These may name a person or a car.',
      question: noQuestion,
      answer: details,
      handle: ({ params }) => library.ask(name(params), 'details'),
    }),
    route({
      method: 'patch',
      path: '/captures/:name/details',
      about: 'Changes what it says of its job: the keys that are sent; an empty text takes a fact away.',
      question: noQuestion,
      body: detailsChange,
      answer: details,
      handle: async ({ params, body }) => {
        const given = Object.fromEntries(Object.entries(body).filter(([, value]) => value !== undefined));
        await library.amend(name(params), { kind: 'details', change: given });
        return library.ask(name(params), 'details');
      },
    }),
    route({
      method: 'post',
      path: '/captures/:name/marks',
      about: 'Sets a mark on the time axis.',
      status: 201,
      question: noQuestion,
      body: mark,
      answer: done,
      handle: async ({ params, body }) => {
        await library.amend(name(params), { kind: 'mark', ...body });
        return { done: true } as const;
      },
    }),
    route({
      method: 'delete',
      path: '/captures/:name/marks',
      about: 'Takes a mark away, by its time and text.',
      question: noQuestion,
      body: mark,
      answer: done,
      handle: async ({ params, body }) => {
        await library.amend(name(params), { kind: 'unmark', ...body });
        return { done: true } as const;
      },
    }),
  ];
}
