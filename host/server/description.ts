// Describes the HTTP interface for programs, in the manner of OpenAPI 3.1, from the same
// list of routes and schemas that the server answers by.

import { z } from 'zod';
import { problem } from '../contract/api.ts';
import { BODY_BYTES_MAX } from '../contract/limits.ts';
import type { Route } from './route.ts';

/** JSON schema (draft 2020-12, as OpenAPI 3.1 takes it). `input`: before conversion, as it is sent. */
function schemaOf(schema: z.ZodType, io: 'input' | 'output'): Record<string, unknown> {
  const described = z.toJSONSchema(schema, { io, unrepresentable: 'any' }) as Record<string, unknown>;
  // The dialect is OpenAPI's own.
  delete described['$schema'];
  return described;
}

const json = (schema: z.ZodType, io: 'input' | 'output') => ({ 'application/json': { schema: schemaOf(schema, io) } });

function parametersOf(route: Route): unknown[] {
  const parts = [...route.path.matchAll(/:(\w+)/g)].map(([, name]) => ({
    name,
    in: 'path',
    required: true,
    schema: { type: 'string' },
  }));
  const { properties = {}, required = [] } = schemaOf(route.question, 'input') as {
    properties?: Record<string, unknown>;
    required?: string[];
  };
  const asked = Object.entries(properties).map(([name, schema]) => ({
    name,
    in: 'query',
    required: required.includes(name),
    schema,
  }));
  return [...parts, ...asked];
}

function goodAnswer(route: Route): Record<string, unknown> {
  if (route.answer !== null) return { description: route.about, content: json(route.answer, 'input') };
  const { type = 'application/octet-stream', events } = route.sends ?? {};
  const described = Object.entries(events ?? {}).map(([name, schema]) => [name, schemaOf(schema, 'input')]);
  return {
    description: route.about,
    content: {
      [type]: {
        schema: { type: 'string' },
        ...(events === undefined ? {} : { 'x-events': Object.fromEntries(described) as unknown }),
      },
    },
  };
}

export interface Description {
  openapi: '3.1.0';
  info: { title: string; version: string; description: string };
  paths: Record<string, Record<string, unknown>>;
}

export function describe(routes: readonly Route[]): Description {
  const paths: Description['paths'] = {};
  for (const route of routes) {
    const path = `/api${route.path === '/' ? '' : route.path.replace(/:(\w+)/g, '{$1}')}`;
    (paths[path] ??= {})[route.method] = {
      summary: route.about,
      ...(route.hereOnly ? { 'x-here-only': true } : {}),
      parameters: parametersOf(route),
      ...(route.body === null
        ? {}
        : {
            requestBody: {
              required: true,
              content: json(route.body, 'input'),
              'x-bytes-max': route.bodyBytes_max ?? BODY_BYTES_MAX,
            },
          }),
      responses: {
        [String(route.status)]: goodAnswer(route),
        default: { description: 'Why not, in one sentence.', content: json(problem, 'input') },
      },
    };
  }
  return {
    openapi: '3.1.0',
    info: {
      title: 'nightdraw',
      version: '1',
      description:
        "Times in seconds from the first sample, currents in mA, charge in mAh. Changes need the header Origin with this server's own address and a body of application/json.",
    },
    paths,
  };
}
