// The report for the job file.

import { reportQuestion } from '../contract/api.ts';
import type { Reports } from './reports.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

export function reportRoutes(reports: Reports): Route[] {
  return [
    route({
      method: 'get',
      path: '/captures/:name/report',
      about:
        'One page for the job file and the customer, as a file to keep; judged as by the findings. `before`: the night before the repair; `bay`: the capture that keeps the work in the bay.',
      question: reportQuestion,
      answer: null,
      sends: { type: 'application/octet-stream' },
      handle: async ({ params, question, asker, response }) => {
        const { name, bytes } = await reports.of(params['name']!, question, asker);
        response.attachment(name).send(Buffer.from(bytes));
      },
    }),
  ];
}
