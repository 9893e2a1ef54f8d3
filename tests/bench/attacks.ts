// What everybody else waits while somebody attacks the server that records: the longest
// answer to a cheap question and the longest pause of the live stream, over all attacks of
// host/server/THREATS.md.

import { AttackedServer } from '../unit/strangers/attacked-server.ts';
import type { Figure } from './figures.ts';

const ATTACKS = [
  'abandoned',
  'unread',
  'pictures',
  'pictures unread',
  'slow',
  'bodies',
  'head',
  'elsewhere',
  'reports',
  'lists',
];

export async function attackFigures(): Promise<Figure[]> {
  const attacked = new AttackedServer();
  await attacked.open();
  try {
    const felt = [];
    for (const attack of ATTACKS) felt.push(await attacked.under(attack));
    return [
      {
        name: 'attack_answer_ms',
        meaning: `a cheap question under ${ATTACKS.length} attacks, the longest wait`,
        value: Math.max(...felt.map(({ normal_ms }) => normal_ms)),
        unit: 'ms',
      },
      {
        name: 'attack_pause_ms',
        meaning: 'the live stream under them, the longest pause',
        value: Math.max(...felt.map(({ pause_ms }) => pause_ms)),
        unit: 'ms',
      },
    ];
  } finally {
    await attacked.close();
  }
}
