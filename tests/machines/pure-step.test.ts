import { describe, expect, it } from 'vitest';
import {
  initialTransition,
  transition,
  type AnyEventObject,
  type AnyMachineSnapshot,
  type AnyStateMachine,
  type EventObject,
} from 'xstate';
import { alertMachine, type AlertEvent } from '../../machines/alert/alert-machine.ts';
import { deviceMachine, type DeviceEvent } from '../../machines/device/device-machine.ts';
import { laneMachine, type LaneEvent } from '../../machines/lane/lane-machine.ts';
import { observerMachine, type ObserverEvent } from '../../machines/observer/observer-machine.ts';
import { pureStep } from '../../machines/pure.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import { workerMachine } from '../../machines/worker/worker-machine.ts';
import { leafOf } from '../support/model.ts';
import { seededChance } from '../../server/seeded-chance.ts';
import { cases as workerCases } from './worker-model.ts';

/**
 * `pureStep` leans on the unexported shape of XState's actor scope. Here it walks beside XState's own `transition()`, event for
 * event: if a newer XState needs more of the scope, the two part ways.
 */
const eventsEach = 20_000;
const worker = (name: string) => name as PersonId;
const device = (name: string) => name as DeviceId;
const at = 5;

const observerCases: ObserverEvent[] = [
  { type: 'start duty', at, device: device('t1') },
  { type: 'end duty', at },
  { type: 'start break', at },
  { type: 'end break', at },
  { type: 'take worker', at, worker: worker('ada'), guiding: 'donning' },
  { type: 'take worker', at, worker: worker('ben'), guiding: 'doffing' },
  { type: 'release', at, worker: worker('ada') },
  { type: 'release', at, worker: worker('ben') },
  { type: 'fall silent', at },
  { type: 'be heard', at },
];
const laneCases: LaneEvent[] = [
  { type: 'hold', at, worker: worker('ada') },
  { type: 'release hold', at },
  { type: 'enter', at, worker: worker('ada'), emergency: false },
  { type: 'enter', at, worker: worker('ben'), emergency: true },
  { type: 'leave', at, turnoverUntil: 9 },
  { type: 'clear', at },
  { type: 'clear', at: 9 },
  { type: 'close', at, reason: 'a spill' },
  { type: 'reopen', at, turnoverUntil: 9 },
];
const alertCases: AlertEvent[] = [
  { type: 'tell', at, device: device('t1') },
  { type: 'tell', at, device: device('t2'), person: worker('ada') },
  { type: 'acknowledge', at, person: worker('ada') },
  { type: 'escalate', at, level: 'safety-officer' },
  { type: 'escalate', at, level: 'everyone' },
  { type: 'clear', at },
];
const deviceCases: DeviceEvent[] = [
  { type: 'join', at, role: 'observer', person: worker('ada') },
  { type: 'report', at, sequence: 1 },
  { type: 'report', at, sequence: 2 },
  { type: 'fall silent', at },
  { type: 'be heard', at },
  { type: 'leave', at },
];

const machines: { name: string; machine: AnyStateMachine; cases: readonly EventObject[]; leaves: number }[] = [
  { name: 'worker', machine: workerMachine, cases: workerCases, leaves: 16 },
  { name: 'observer', machine: observerMachine, cases: observerCases, leaves: 6 },
  { name: 'lane', machine: laneMachine, cases: laneCases, leaves: 5 },
  { name: 'alert', machine: alertMachine, cases: alertCases, leaves: 3 },
  { name: 'device', machine: deviceMachine, cases: deviceCases, leaves: 3 },
];

/** A walk starts over when its state has grown large or nothing is possible any more, so that it sees every place. */
const largestState = 3_000;

describe.each(machines)('$name: one reused scope is the same as an actor per step', ({ machine, cases, leaves }) => {
  it(`${eventsEach} random events: identical snapshots, refused events the very same one`, () => {
    const step = pureStep(machine);
    const random = seededChance(20_260_302);
    const places = new Set<string>();
    const start = (): AnyMachineSnapshot => initialTransition(machine)[0] as AnyMachineSnapshot;
    let [ours, theirs] = [start(), start()];
    let taken = 0;
    for (let count = 0; count < eventsEach; count += 1) {
      const able = cases.filter((event) => ours.can(event as AnyEventObject));
      if (able.length === 0 || JSON.stringify(ours.context).length > largestState) [ours, theirs] = [start(), start()];
      // Mostly something that is possible, or the walk would stand still at the first door.
      const from = able.length > 0 && random() < 0.7 ? able : cases;
      const event = from[Math.floor(random() * from.length)] as AnyEventObject;
      const [before, next] = [ours, step(ours, event) as AnyMachineSnapshot];
      const reference = transition(machine, theirs, event)[0] as AnyMachineSnapshot;
      const isSame = (next === before) === (reference === theirs) && JSON.stringify(next) === JSON.stringify(reference);
      if (!isSame) expect([event, next.toJSON()]).toEqual([event, reference.toJSON()]);
      if (!isSame) expect.fail(`after ${event.type}: one of the two is refused, or their text differs`);
      if (next !== before) taken += 1;
      [ours, theirs] = [next, reference];
      places.add(leafOf(ours.value));
    }
    expect(taken).toBeGreaterThan(eventsEach / 4);
    expect(places.size).toBe(leaves);
  }, 120_000);
});
