// The description of the HTTP interface against the running server: it names every
// question that is answered and no other, and the answers have the shapes it gives.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { z } from 'zod';
import type { Description } from '../../../host/server/description.ts';
import { SETTINGS } from '../../../host/contract/settings.ts';
import { Stage } from './stage.ts';

interface Described {
  parameters: { name: string; in: string; required: boolean }[];
  requestBody?: unknown;
  responses: Record<string, { content: Record<string, { schema: object; 'x-events'?: object }> }>;
}

const stage = new Stage();
let description: Description;
const told = (path: string) => description.paths[path] as Record<string, Described>;

beforeAll(async () => {
  writeFileSync(
    join(stage.dir, 'night.csv'),
    ['t_s,current_mA', ...Array.from({ length: 3000 }, (_, s) => `${s},${s < 600 ? 400 : 20}`)].join('\n'),
  );
  await stage.serve({ lan: '127.0.0.2', onCode: () => undefined });
  description = JSON.parse((await stage.ask('/api')).text) as Description;
});
afterAll(() => stage.close());

test('each path takes the methods that are described, and says so when asked by another', async () => {
  for (const path of Object.keys(description.paths)) {
    const methods = Object.keys(told(path)).map((method) => method.toUpperCase());
    const answer = await stage.ask(path.replace('{name}', 'night.csv'), { method: 'PUT' });
    expect([
      answer.status,
      answer.headers
        .allow!.split(', ')
        .filter((method) => method !== 'HEAD')
        .sort(),
    ]).toEqual([405, methods.sort()]);
  }
  for (const path of ['/api/none', '/api/captures/night.csv/none', '/api/lan/none'])
    expect((await stage.ask(path)).status).toBe(404);
});

const shown: [string, string][] = [
  ['/api', ''],
  ['/api/captures', ''],
  ['/api/captures/{name}', ''],
  ['/api/captures/{name}/findings', ''],
  ['/api/captures/{name}/repair', '?before=night.csv'],
  ['/api/captures/{name}/overview', '?from_s=0&to_s=3000&bins=30'],
  ['/api/captures/{name}/small', ''],
  ['/api/captures/{name}/details', ''],
  ['/api/fleet', ''],
  ['/api/boards', ''],
  ['/api/recordings', ''],
  ['/api/proof', ''],
  ['/api/lan', ''],
];

test.each(shown)('GET %s answers in the shape that is described', async (path, question) => {
  const { text, status } = await stage.ask(path.replace('{name}', 'night.csv') + question);
  expect(status).toBe(200);
  const { schema } = told(path)['get']!.responses['200']!.content['application/json']!;
  // Read back from the JSON schema, not from the zod schema that it was made of.
  const answer: unknown = JSON.parse(text);
  expect(z.fromJSONSchema(schema as never).safeParse(answer).error).toBeUndefined();
  if (path !== '/api') expect(z.fromJSONSchema(schema as never).safeParse({ other: 1 }).success).toBe(false);
});

test('every GET but those that send something else is looked at here', () => {
  // The feed tree is there beside a recording alone.
  const tree = '/api/recordings/{name}/bay/tree';
  const others = ['/api/live', '/api/lan/code.svg', '/api/captures/{name}/report', tree];
  const all = Object.keys(description.paths).filter((path) => told(path)['get'] !== undefined);
  expect(all.sort()).toEqual([...shown.map(([path]) => path), ...others].sort());
});

test('the live stream is described event by event, and what is only for this computer is marked', () => {
  expect(
    Object.keys(told('/api/live')['get']!.responses['200']!.content['text/event-stream']!['x-events']!).sort(),
  ).toEqual(['bay', 'beat', 'boards', 'changed', 'picture', 'readings', 'status', 'step']);
  const here = Object.keys(description.paths).filter((path) =>
    Object.values(told(path)).some((method) => 'x-here-only' in method),
  );
  expect(here.sort()).toEqual(['/api/captures/{name}/job-folder', '/api/lan', '/api/lan/code.svg', '/api/lan/renew']);
});

test('findings can be asked for with every setting but the head of the report, each refused beyond its limits', async () => {
  const { parameters } = told('/api/captures/{name}/findings')['get']!;
  expect(parameters.filter((p) => p.in === 'query').map((p) => p.name)).toEqual(
    SETTINGS.map(({ key }) => key).filter((key) => !key.startsWith('workshop_')),
  );
  const findings = async (question: string) => stage.ask(`/api/captures/night.csv/findings?${question}`);
  expect(JSON.parse((await findings('allowance_mA=10')).text)).toMatchObject({
    allowance_mA: 10,
    verdict: { code: 'over' },
  });
  expect(JSON.parse((await findings('')).text)).toMatchObject({ allowance_mA: 50, verdict: { code: 'within' } });
  for (const { key } of SETTINGS.filter(({ limits }) => limits !== null))
    expect((await findings(`${key}=1e9`)).status).toBe(400);
  for (const wrong of ['battery_type=gel', 'allowance_mA=', 'proof_at_min=5', 'other=1'])
    expect((await findings(wrong)).status).toBe(400);
});
