/** Makes the golden calls with the generated client: `node golden.js ADDRESS GOLDEN`. */

import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

import { type Client, createClient, createConfig } from './client/client';
import {
  batch,
  compare,
  example,
  fillLevel,
  flowBalance,
  flowBalanceJson,
  flowBalancePacked,
  flowBalanceText,
  health,
  heatBudget,
  listSums,
  plan,
  seek,
  sumCarnotLimit,
  sumCarnotLimitText,
  sweep,
} from './client/sdk.gen';
import type {
  BatchInquiry,
  CompareInquiry,
  ExampleData,
  Plan,
  Problem,
  SeekInquiry,
  SumCarnotLimitData,
  SweepInquiry,
} from './client/types.gen';

type Near = { value: number; relative?: number; tolerance?: number };
type Wanted = string | number | boolean | null | Near;
type Call = {
  title: string;
  operation: string;
  below?: string;
  body?: unknown;
  path?: Record<string, string>;
  query?: Record<string, string>;
  expect: { status: number; text?: string; faults?: Fault[]; figures?: Record<string, Wanted> };
};
type Answered = { data?: unknown; error?: unknown; response?: Response };

/** Each operation by its own typed function: none is reached by its path. */
const operations: Record<string, (client: Client, call: Call) => Promise<Answered>> = {
  flowBalance: (client, call) => flowBalance({ client, body: call.body as Plan }),
  flowBalanceJson: (client, call) => flowBalanceJson({ client, body: call.body as Plan }),
  flowBalanceText: (client, call) => flowBalanceText({ client, body: call.body as Plan }),
  flowBalancePacked: (client, call) => flowBalancePacked({ client, query: call.query as { z: string } }),
  heatBudget: (client, call) => heatBudget({ client, body: call.body as Plan }),
  fillLevel: (client, call) => fillLevel({ client, body: call.body as Plan }),
  plan: (client, call) => plan({ client, body: call.body as Plan }),
  compare: (client, call) => compare({ client, body: call.body as CompareInquiry }),
  sweep: (client, call) => sweep({ client, body: call.body as SweepInquiry }),
  seek: (client, call) => seek({ client, body: call.body as SeekInquiry }),
  batch: (client, call) => batch({ client, body: call.body as BatchInquiry }),
  listSums: (client) => listSums({ client }),
  sumCarnotLimit: (client, call) => sumCarnotLimit({ client, query: call.query as SumCarnotLimitData['query'] }),
  sumCarnotLimitText: (client, call) =>
    sumCarnotLimitText({ client, query: call.query as SumCarnotLimitData['query'] }),
  example: (client, call) => example({ client, path: call.path as ExampleData['path'] }),
  health: (client) => health({ client }),
};

/** What stands at a JSON pointer (RFC 6901). */
function at(value: unknown, pointer: string): unknown {
  for (const part of pointer.split('/').slice(1)) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = (value as Record<string, unknown>)[part.replaceAll('~1', '/').replaceAll('~0', '~')];
  }
  return value;
}

function holds(found: unknown, wanted: Wanted): boolean {
  if (typeof wanted !== 'object' || wanted === null) return found === wanted;
  if (typeof found !== 'number') return false;
  const most = Math.max(wanted.tolerance ?? 0, (wanted.relative ?? 0) * Math.abs(wanted.value));
  return Math.abs(found - wanted.value) <= most;
}

type Fault = [pointer: string, code: string, near: string | null];

/** Problems have a type: what is read of one here is checked by the compiler. In an order of their own, not that of the document. */
function faultsOf(problem: Problem): Fault[] {
  const faults = (problem.faults ?? []).map((fault): Fault => [fault.pointer ?? '', fault.code, fault.near ?? null]);
  return faults.sort((one, other) => (one[0] < other[0] ? -1 : 1));
}

/** What of a call is not as expected. */
async function wrong(call: Call, address: string): Promise<string[]> {
  const operation = operations[call.operation];
  if (!operation) return [`no operation ${call.operation}`];
  const client = createClient(createConfig({ baseUrl: address + (call.below ?? '') }));
  const { data, error, response } = await operation(client, call);
  const { status, text, faults = [], figures = {} } = call.expect;
  if (response?.status !== status) return [`status ${response?.status}: ${JSON.stringify(error).slice(0, 300)}`];
  if (text !== undefined) return typeof data === 'string' && data.startsWith(text) ? [] : [`text ${JSON.stringify(data)}`];
  const told: string[] = [];
  const found = status < 400 ? [] : faultsOf(error as Problem);
  if (JSON.stringify(found) !== JSON.stringify(faults)) told.push(`faults ${JSON.stringify(found)}`);
  for (const [pointer, wanted] of Object.entries(figures)) {
    const value = at(status < 400 ? data : error, pointer);
    if (!holds(value, wanted)) told.push(`${pointer} is ${JSON.stringify(value)} and not ${JSON.stringify(wanted)}`);
  }
  return told;
}

async function main(address: string, golden: string): Promise<number> {
  const calls = JSON.parse(readFileSync(golden, 'utf8')) as Call[];
  let failed = 0;
  for (const call of calls) {
    if (typeof call.body === 'string') {
      call.body = JSON.parse(readFileSync(join(dirname(golden), call.body), 'utf8'));
    }
    const told = await wrong(call, address);
    failed += told.length > 0 ? 1 : 0;
    for (const fault of told) console.log(`typescript: ${call.title}: ${fault}`);
  }
  console.log(`typescript: ${calls.length - failed} of ${calls.length} golden calls as expected`);
  return failed > 0 ? 1 : 0;
}

const [address, golden] = process.argv.slice(2);
if (!address || !golden) throw new Error('usage: golden ADDRESS GOLDEN');
main(address, golden).then((code) => process.exit(code));
