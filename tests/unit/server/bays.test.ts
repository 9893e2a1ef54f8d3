// The simulated bays through the server: readings come in where a board's do, deeds by HTTP as
// the page sends them, with the sentence that they answer. What the capture holds in the end
// is what the session alone came to. Some of them here, 500 with NIGHTDRAW_SOAK=1.
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Session } from '../../../host/bay/session/session-state.ts';
import { readBay } from '../../../host/capture/store/bay-log.ts';
import type { BayView, Recording } from '../../../host/contract/api.ts';
import { runBay } from '../bay/sim-run.ts';
import { ToldSession } from '../bay/told-session.ts';
import { Listener } from './listener.ts';
import { SIM_PORT, SimBench } from './sim-bench.ts';
import { Stage, until } from './stage.ts';

const [FIRST, COUNT] = process.env['NIGHTDRAW_SOAK'] === '1' ? [1, 500] : [11, 2];
/** Readings between two commits: 20 s of the car. */
const TOGETHER = 40;

const stage = new Stage();
const bench = new SimBench();
let listener: Listener;
beforeAll(async () => {
  await stage.serve({ bench, checksAnswers: false });
  await stage.findBoards();
  listener = new Listener(stage.port, undefined, false);
  await until(() => listener.of('picture').length > 0, 'the picture');
});
afterAll(async () => {
  listener.close();
  await stage.close();
});

/** All that counts: neither what is never kept nor when it was looked at last, nor that the list was left out. */
const plain = ({ memory: _, now_s: __, log, ...rest }: Session): unknown =>
  JSON.parse(JSON.stringify({ ...rest, log: log.filter(({ code }) => code !== 'prepared') }));

async function replayed(session: ToldSession): Promise<{ kept: Session; view: BayView }> {
  const post = async (path: string, body: object) => {
    const { status, text } = await stage.change('POST', `/api/recordings${path}`, body);
    expect([status < 300, text]).toEqual([true, text]);
    return JSON.parse(text) as unknown;
  };
  const { name } = (await post('', { port: SIM_PORT, bay: { tree: session.state.list.treeText } })) as Recording;
  const act = (action: object) => post(`/${name}/bay`, action);
  await act({ do: 'ready' });
  let since = 0;
  for (const one of session.told) {
    if (one.kind === 'deed') await act(one.action);
    else {
      bench.read(one.t_s, one.mean_uA);
      if (++since % TOGETHER === 0) bench.commit();
    }
  }
  bench.commit();
  const { state } = readBay(join(stage.dir, name))!;
  const views = () => listener.of<{ name: string; view: BayView }>('bay').filter(({ data }) => data.name === name);
  await until(() => views().at(-1)?.data.view.finished !== null, 'the end on the stream');
  const { view } = views().at(-1)!.data;
  await post(`/${name}/stop`, {});
  listener.heard.length = 0;
  return { kept: (JSON.parse(state) as { session: Session }).session, view };
}

test(`${COUNT} simulated bays through the server come to what the session alone comes to`, async () => {
  let right = 0;
  for (let seed = FIRST; seed < FIRST + COUNT; seed++) {
    let session!: ToldSession;
    const run = runBay(seed, (tree) => (session = ToldSession.start(tree)));
    const { kept, view } = await replayed(session);
    expect(plain(kept), `seed ${seed}`).toEqual(plain(session.state));
    const names = session.state.named.map(({ node }) => session.tree.nodes[node]!.name);
    expect(
      view.named.map(({ name }) => name),
      `seed ${seed}`,
    ).toEqual(names);
    expect(view.finished, `seed ${seed}`).toBe(session.view.finished);
    right += Number(run.right);
  }
  console.log(`${COUNT} bays through the server: ${right} right`);
  expect(right).toBeGreaterThanOrEqual(Math.floor(0.98 * COUNT));
  expect(stage.logged).toEqual([]);
});
