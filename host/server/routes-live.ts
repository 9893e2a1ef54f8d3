// Boards, recordings, and the live stream.

import {
  bayAction,
  bayView,
  boardList,
  feedTree,
  liveEvents,
  liveQuestion,
  noQuestion,
  recording,
  recordingList,
  recordOrder,
  treeAnswer,
  treeQuestion,
} from '../contract/api.ts';
import { z } from 'zod';
import type { Changes } from './live/changes.ts';
import { lookedOver } from './live/look-over.ts';
import { TREE_BYTES_MAX } from '../contract/limits.ts';
import type { Recordings } from './live/recordings.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

const nothing = z.strictObject({});

// oxlint-disable-next-line max-lines-per-function -- one list of doors, each a few lines
export function liveRoutes(recordings: Recordings, changes: Changes): Route[] {
  return [
    route({
      method: 'get',
      path: '/boards',
      about: 'The boards at this computer as they were found last.',
      question: noQuestion,
      answer: boardList,
      handle: () => Promise.resolve(recordings.boardList()),
    }),
    route({
      method: 'post',
      path: '/boards/search',
      about: 'Begins to look for boards, which takes some seconds; the live stream tells when it is done.',
      status: 202,
      question: noQuestion,
      body: nothing,
      answer: boardList,
      handle: () => Promise.resolve(recordings.search()),
    }),
    route({
      method: 'get',
      path: '/recordings',
      about: 'What is being recorded or was lately, and captures that were left unfinished.',
      question: noQuestion,
      answer: recordingList,
      handle: () => recordings.list(),
    }),
    route({
      method: 'post',
      path: '/recordings',
      about:
        'Begins a recording of a board that was found, into a new capture, or goes on with an unfinished one; with `bay`, work in the bay beside it.',
      status: 201,
      bodyBytes_max: TREE_BYTES_MAX,
      question: noQuestion,
      body: recordOrder,
      answer: recording,
      handle: ({ body }) => recordings.begin(body),
    }),
    route({
      method: 'post',
      path: '/recordings/:name/stop',
      about: 'Ends a recording; answered when its capture is finished.',
      question: noQuestion,
      body: nothing,
      answer: recording,
      handle: ({ params }) => recordings.stop(params['name']!),
    }),
    route({
      method: 'post',
      path: '/recordings/:name/bay',
      about: 'Something done or read at the car: the work in the bay goes on by it, or says in words why not now.',
      question: noQuestion,
      body: bayAction,
      answer: bayView,
      handle: ({ params, body }) => Promise.resolve(recordings.act(params['name']!, body)),
    }),
    route({
      method: 'get',
      path: '/recordings/:name/bay/tree',
      about: 'The feed tree that the work in the bay goes by; `feed` of its view tells of the nodes by their number.',
      question: noQuestion,
      answer: feedTree,
      handle: ({ params }) => Promise.resolve(recordings.feedTree(params['name']!)),
    }),
    route({
      method: 'post',
      path: '/recordings/:name/leave',
      about: 'Stops work in the bay for now; its capture stays unfinished, to be gone on with.',
      question: noQuestion,
      body: nothing,
      answer: recording,
      handle: ({ params }) => recordings.leave(params['name']!),
    }),
    route({
      method: 'post',
      path: '/bay/tree',
      about: 'Looks a feed tree over: what is in it, and every mistake with its line. Keeps nothing.',
      bodyBytes_max: TREE_BYTES_MAX,
      question: noQuestion,
      body: treeQuestion,
      answer: treeAnswer,
      handle: ({ body }) => Promise.resolve(lookedOver(body.tree)),
    }),
    route({
      method: 'get',
      path: '/live',
      about:
        'All recordings as they go, as server-sent events; or only that the list of captures changed. After Last-Event-ID only what was missed, or a fresh picture.',
      question: liveQuestion,
      answer: null,
      sends: { type: 'text/event-stream', events: liveEvents },
      handle: ({ question, request, response }) => {
        if (question.only === 'changes') recordings.hub.attendChanges(request, response, () => changes.now());
        else recordings.hub.attend(request, response);
        return Promise.resolve();
      },
    }),
  ];
}
