// What a screen shows of the work in the bay: one thing to do, what may be answered, and
// what is known so far. Plain data, the same for the terminal and the page.

import type { BayAnswer, BayView } from '../../contract/api-bay.ts';
import { CAUTIONS } from '../../say/cautions.ts';
import { bridgedAside } from '../session/session-state.ts';
import type { Session } from '../session/session-state.ts';
import { viewSession } from '../session/session-view.ts';
import type { SessionView } from '../session/session-view.ts';
import { PREPARATION } from './preparation.ts';
import { sightNow } from './preparing.ts';
import type { ProofState } from './preparing.ts';
import { proofCautions } from './proof-load.ts';
import { CLOSING_LIST } from './repair.ts';
import { stageOf, stillOut } from './work.ts';
import type { Work } from './work.ts';

const SAID_MAX = 12;

/** What the work shows now. Under a millisecond where what is believed is known already, else some milliseconds. */
export function viewWork(work: Work): BayView {
  const { session, prepare, closed } = work;
  const stage = stageOf(work);
  const view = viewSession(session);
  return {
    ...view,
    answered: work.answered ?? 0,
    ...(stage !== 'pulling' && { wait: null, move: null }),
    sight: null,
    step: null,
    ...(prepare.proof !== null ? proofOrder(prepare.proof, prepare.battery_V ?? 12) : ORDERS[stage](work, view)),
    stage,
    bridge: session.bridge,
    out: stillOut(work),
    closing: closingList(closed),
    said: session.log.slice(-SAID_MAX),
  };
}

/** @param closed ids of what is ticked */
export const closingList = (closed: readonly string[]): BayView['closing'] =>
  CLOSING_LIST.map((item) => ({ ...item, ticked: closed.includes(item.id) }));

type Order = Pick<BayView, 'headline' | 'answers' | 'cautions'> & Partial<Pick<BayView, 'sight' | 'step'>>;

const order = (headline: string, answers: BayAnswer[], cautions: string[] = []): Order => ({
  headline,
  answers,
  cautions,
});

function proofOrder({ step, resistor_Ohm, result }: ProofState, battery_V: number): Order {
  const cautions = proofCautions(battery_V, resistor_Ohm);
  switch (step) {
    case 'before':
      return order('Proof load: measuring without it. Touch nothing.', ['skip']);
    case 'connect':
      return order(
        `Connect the ${resistor_Ohm} ohm: fused lead on the battery's positive post, then the chassis.`,
        ['tap', 'skip'],
        cautions,
      );
    case 'with':
      return order('Proof load: measuring with it. Touch nothing.', ['skip'], cautions);
    case 'remove':
      return order(`${result!.sentence} Take the resistor off, at the chassis first.`, ['tap', 'skip']);
  }
}

const ORDERS: Record<BayView['stage'], (work: Work, view: SessionView) => Order> = {
  preparing: ({ prepare, session }) => {
    const { text, cautions } = PREPARATION[prepare.at]!;
    const sight = sightNow(prepare, session.now_s);
    const seen = { yes: 'Seen', no: 'Not yet', 'cannot tell': 'Cannot tell' }[sight.seen];
    const step = { number: prepare.at + 1, of: PREPARATION.length };
    return { ...order(text, ['tap'], cautions), sight: `${seen}: ${sight.text}`, step };
  },
  pulling: ({ session }, { headline, cautions, move }) =>
    order(headline, answersOf(session, move?.kind === 'drop'), cautions),
  closing: (work) => {
    const out = stillOut(work).at(-1);
    if (out !== undefined) {
      const headline = work.session.bridge === 'off' ? `Bridge on: ${out} goes in again.` : `Put ${out} in again.`;
      return order(headline, ['tap'], [CAUTIONS.motorStarts.text]);
    }
    const at = CLOSING_LIST.findIndex(({ id }) => !work.closed.includes(id));
    return { ...order(CLOSING_LIST[at]!.text, ['tap']), step: { number: at + 1, of: CLOSING_LIST.length } };
  },
  done: () => order('All done. End the recording.', []),
};

/** What may be answered while the search goes on, first what the large button does. */
function answersOf(session: Session, reads: boolean): BayAnswer[] {
  const back: BayAnswer[] = session.observations.length > 1 ? ['wrong'] : [];
  const { phase } = session;
  if (bridgedAside(session)) return ['tap', ...back];
  switch (phase.name) {
    case 'proposing':
      return [reads ? 'drop' : 'tap', 'skip', ...back];
    case 'asking':
      if (phase.question === 'what-feeds') return ['yes', 'no', 'skip', ...back];
      // A tap that comes just after the fall answers for itself: the hand was quicker than the question.
      return phase.question === 'back-in' ? ['yes', 'no', ...back] : ['yes', 'no', 'tap', ...back];
    case 'bridge-on':
      return ['tap', ...back];
    case 'refitting':
    case 'bridge-off':
      return ['tap', 'wrong'];
    case 'measuring':
    case 'settling':
      return ['wrong'];
    default:
      return back;
  }
}
