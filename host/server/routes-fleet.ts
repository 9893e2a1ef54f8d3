// All nights by car, from the index: no capture is opened for it.

import { fleetAnswer, fleetQuestion } from '../contract/api.ts';
import type { Library } from './library.ts';
import { route } from './route.ts';
import type { Route } from './route.ts';

export function fleetRoutes(library: Library): Route[] {
  return [
    route({
      method: 'get',
      path: '/fleet',
      about:
        'All nights of the folder by car, the worst first: by what the newest night draws over its allowance. Nights with one plate, else with one job, are of one car; the plate is not in it. 50 where no count is given.',
      question: fleetQuestion,
      answer: fleetAnswer,
      handle: ({ question }) => library.fleet(question),
    }),
  ];
}
