import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import { demoFolder } from '../support/demo-unit.ts';
import { stories } from '../support/record-logs.ts';

/** What demo-data/README.md says each log leads to. */
const documented = {
  'clean-shift': { entries: 6, worst: 'low', kinds: ['limit-approaching'] },
  'breach-and-emergency': {
    entries: 4,
    worst: 'high',
    kinds: ['breach', 'emergency-exit', 'limit-approaching', 'no-observer'],
  },
  'same-lane': { entries: 3, worst: 'high', kinds: ['lane-clash', 'limit-approaching', 'limit-reached'] },
} as const;

const read = (name: string): Fact[] =>
  readFileSync(`${demoFolder}logs/${name}.jsonl`, 'utf8')
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Fact);

describe.each(Object.keys(documented) as (keyof typeof documented)[])('the recorded log %s', (name) => {
  const facts = read(name);
  const raised = facts.flatMap((fact) => (fact.kind === 'alert-raised' ? [fact.data] : []));

  it('replays fact by fact under the rules of today', () => {
    let state: UnitState | undefined;
    for (const fact of facts) state = fold(state, fact);
    expect(state?.number).toBe(facts.length);
    expect(Object.values(state?.workers ?? {}).every(({ machine }) => !machine.context.entry)).toBe(true);
    expect(state?.alerts).toEqual({});
  });

  it('is what its story plays today, fact for fact', () => {
    expect(stories[name]().facts).toEqual(facts);
  });

  it('leads to the alerts that demo-data/README.md documents', () => {
    const { entries, worst, kinds } = documented[name];
    expect(facts.filter((fact) => fact.kind === 'worker-called')).toHaveLength(entries);
    expect([...new Set(raised.map((one) => one.alertKind))].sort()).toEqual([...kinds]);
    expect(raised.some((one) => one.priority === 'high')).toBe(worst === 'high');
  });
});
