import { Readable } from 'node:stream';
import { createReadStream, readFileSync } from 'node:fs';
import { Command } from 'commander';
import { describe, expect, it } from 'vitest';
import type { CommandOutcome } from '../../server/cli/json-command.ts';
import { addRotationCommand, inputBytesMax } from '../../server/cli/rotation.ts';
import type { RotationResult } from '../../server/rotation/plan-rotation.ts';
import type { RotationInstance } from '../../server/rotation/instance.ts';
import { RotationPlanner } from '../../server/rotation/planner.ts';
import { checkPlan, costOf, uncoveredMinutesOf } from '../support/plan-check.ts';

const text = (name: string) =>
  readFileSync(new URL(`../support/rotation-instances/${name}.json`, import.meta.url), 'utf8');
const instanceOf = (name: string) => (JSON.parse(text(name)) as { instance: RotationInstance }).instance;

async function run(input: string, options: readonly string[] = []): Promise<CommandOutcome> {
  let outcome: CommandOutcome | undefined;
  const program = new Command().exitOverride();
  addRotationCommand(program, {
    open: (path) => createReadStream(path),
    stdin: Readable.from([input]),
    write: (one) => (outcome = one),
  });
  await program.parseAsync(['node', 'anteroom', 'rotation', '--input', '-', ...options]);
  return outcome!;
}

const printed = ({ stdout }: CommandOutcome) => JSON.parse(stdout) as RotationResult;

describe('anteroom rotation', () => {
  it('plans the one-room sample, proven optimal, and every rule is kept', async () => {
    const outcome = await run(text('S1-12h-1pos-6w'), ['--seconds', '12']);
    expect(outcome.exitCode).toBe(0);
    const result = printed(outcome);
    const instance = instanceOf('S1-12h-1pos-6w');
    expect(checkPlan(instance, result)).toEqual([]);
    expect(result.status).toBe('planned');
    expect(result.objective).toBeCloseTo(costOf(instance, result).total, 4);
    expect(result.lowerBound).toBeCloseTo(92.2, 4);
    expect(result.uncoveredMinutes).toBe(uncoveredMinutesOf(instance, result));
    expect(Object.keys(result)).toEqual(
      'status objective lowerBound gapPct seconds entries breaks uncoveredMinutes'.split(' '),
    );
  });

  it('says infeasible with the reason and the best plan, and still exits with 0', async () => {
    const outcome = await run(JSON.stringify(instanceOf('INFEASIBLE-X5-shift-overlap')), ['--seconds', '1']);
    expect(outcome.exitCode).toBe(0);
    const result = printed(outcome);
    const instance = instanceOf('INFEASIBLE-X5-shift-overlap');
    expect(result.status).toBe('infeasible');
    expect(result.shortOf?.resource).toBe('duty-overlap');
    expect(checkPlan(instance, result)).toEqual([]);
    expect(result.uncoveredMinutes).toBe(uncoveredMinutesOf(instance, result));
    expect(result.lowerBound).toBeLessThanOrEqual(result.objective);
  });

  it.each([
    ['no JSON', 'x', [], 'rotation: the input is not complete JSON'],
    [
      'a list',
      '[]',
      [],
      'rotation: rotation/not-understood: expected an object with the fields of an instance, not a list\n',
    ],
    [
      'an empty instance',
      '{"instance":{}}',
      [],
      'rotation: rotation/missing-field: the field slotMinutes is missing\n',
    ],
    ['no time', '{}', ['--seconds', '0'], 'rotation: --seconds must be above 0 and at most 600\n'],
    ['too much time', '{}', ['--seconds', '601'], 'rotation: --seconds must be above 0 and at most 600\n'],
    ['half a seed', '{}', ['--seed', '1.5'], 'rotation: --seed must be a whole number from 0 to 4294967295\n'],
    ['too large an input', ' '.repeat(inputBytesMax + 1), [], 'rotation: the input is larger than 5000000 bytes\n'],
  ])('refuses %s with 2 and one line', async (_what, input, options, stderr) => {
    const outcome = await run(input, options);
    expect(outcome.exitCode).toBe(2);
    expect(outcome.stdout).toBe('');
    expect(outcome.stderr.startsWith(stderr)).toBe(true);
    expect(outcome.stderr.split('\n')).toHaveLength(2);
  });

  it('exits with 3 when the file cannot be read', async () => {
    const outcome = await run('', ['--input', 'no-such-sample']);
    expect(outcome).toEqual({ exitCode: 3, stdout: '', stderr: 'rotation: cannot read no-such-sample (ENOENT)\n' });
  });
});

describe('the planner in its thread', () => {
  it('tells its progress, can be cancelled, and plans again', async () => {
    const planner = new RotationPlanner();
    const instance = instanceOf('M2-12h-4pos-20w');
    const cancelled = await new Promise((resolve) => {
      const ended = planner.start(instance, { seconds: 60, seed: 1, onProgress: () => planner.cancel() });
      void ended.then(resolve);
    });
    expect((cancelled as { kind: string }).kind).toBe('cancelled');
    expect(planner.isPlanning).toBe(false);
    const finished = await planner.start(instance, { seconds: 0.5, seed: 2 });
    expect(finished.kind).toBe('finished');
    if (finished.kind === 'finished') expect(checkPlan(instance, finished.result)).toEqual([]);
    await planner.close();
  });

  it('plans around lanes that are taken at the start', async () => {
    const planner = new RotationPlanner();
    const instance = instanceOf('S1-12h-1pos-6w');
    const firstExit = async (lanesAway: { lane: number; fromMinute: number; toMinute: number }[]) => {
      const outcome = await planner.start(instance, { seconds: 0.5, seed: 1, lanesAway });
      if (outcome.kind !== 'finished') throw new Error(outcome.kind);
      expect(checkPlan(instance, outcome.result)).toEqual([]);
      const exits = outcome.result.entries.map(
        (entry) => entry.donningStartMinute + instance.durations.donning + entry.insideMinutes,
      );
      return Math.min(...exits);
    };
    expect(await firstExit([])).toBeLessThan(100);
    expect(await firstExit([{ lane: 0, fromMinute: 0, toMinute: 100 }])).toBeGreaterThanOrEqual(100);
    await planner.close();
  });

  it('gives the earlier plan up when a new one is asked for', async () => {
    const planner = new RotationPlanner();
    const instance = instanceOf('S1-12h-1pos-6w');
    const first = planner.start(instance, { seconds: 60, seed: 1 });
    const second = planner.start(instance, { seconds: 0.3, seed: 2 });
    expect((await first).kind).toBe('cancelled');
    expect((await second).kind).toBe('finished');
    await planner.close();
  });

  it('ends what it was doing when it is closed', async () => {
    const planner = new RotationPlanner();
    const open = planner.start(instanceOf('S1-12h-1pos-6w'), { seconds: 60, seed: 1 });
    await planner.close();
    expect(await open).toEqual({ kind: 'cancelled', result: undefined });
  });
});
