// The report for the job file, to keep and to look at, and the job folder.

import { z } from 'zod';
import { jobFolder, jobQuestion, reportQuestion } from '../contract/api.ts';
import type { Reports } from './reports.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

/**
 * The report as a page may do less than any page of ours: no script, nothing to fetch. Only our own page frames it,
 * reads how tall it is, and prints it.
 */
const SHOWN_POLICY = [
  "default-src 'none'",
  'img-src data:',
  'font-src data:',
  "style-src 'unsafe-inline'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'self'",
  'sandbox allow-same-origin allow-modals',
].join('; ');

export function reportRoutes(reports: Reports): Route[] {
  return [
    route({
      method: 'get',
      path: '/captures/:name/report',
      about:
        'One page for the job file and the customer, as a file to keep, or with `shown` to look at; judged as by the findings. `before`: the night before the repair; `bay`: the capture that keeps the work in the bay.',
      question: reportQuestion,
      answer: null,
      sends: { type: 'application/octet-stream' },
      handle: async ({ params, question, asker, response }) => {
        // First: a refusal is shown in the same place.
        if (question.shown === 'yes') response.set('Content-Security-Policy', SHOWN_POLICY);
        const { name, bytes } = await reports.of(params['name']!, question, asker);
        if (question.shown === 'yes') response.type('html').send(Buffer.from(bytes));
        else response.attachment(name).send(Buffer.from(bytes));
      },
    }),
    route({
      method: 'post',
      path: '/captures/:name/job-folder',
      about:
        'Writes a folder beside the capture: the capture, the report as PDF and HTML, and the readings as CSV. Its files of before are replaced.',
      status: 201,
      hereOnly: true,
      question: jobQuestion,
      body: z.strictObject({}),
      answer: jobFolder,
      handle: ({ params, question }) => reports.folder(params['name']!, question),
    }),
  ];
}
