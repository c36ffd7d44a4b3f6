import { z } from 'zod';
import { plannedTrip, tripsMost } from '../../../machines/unit/rotation.ts';
import type { RotationSettings } from '../../../machines/unit/rotation-settings.ts';
import { at, procedureKey, type UnitState } from '../../../machines/unit/state.ts';
import { procedureId, roomId } from '../../../machines/wire/ids.ts';
import { readInstance } from '../read-instance.ts';
import { instanceOf, type RotationAsk, type RotationProblem } from './instance-of.ts';
import { notPlannableSentence } from './not-plannable.ts';

/** What a coordinator asks of the planner, and the same as a problem that it can work on; or why not. Pure. */
export const secondsDefault = 10;
export const secondsMost = 120;

export const planAsk = z.strictObject({
  hours: z.int().min(4).max(24),
  procedure: procedureId,
  /** People who must be in each room at all times; a room that is left out needs nobody. */
  staffInside: z.record(roomId, z.int().min(0).max(12)),
  observers: z.enum(['on-duty', 'roster']).default('roster'),
  locked: z.array(plannedTrip).max(tripsMost).default([]),
  whatIf: z
    .strictObject({
      observersLess: z.int().min(0).max(20).optional(),
      lanesMore: z.int().min(0).max(10).optional(),
      doffingLongerPct: z.int().min(0).max(200).optional(),
    })
    .optional(),
  seconds: z.int().min(1).max(secondsMost).default(secondsDefault),
});
export type PlanAsk = z.infer<typeof planAsk>;

/** `field` is absent where it is the unit that will not do, and not the question. */
export interface AskRefusal {
  code: string;
  sentence: string;
  field?: string;
}

export interface Plannable {
  problem: RotationProblem;
  /** Locked trips that had begun already: they are as they are, and nobody plans them. */
  notKept: string[];
}

export type AskRead = ({ ok: true } & Plannable) | { ok: false; refusal: AskRefusal };

export function readAsk(state: UnitState, ask: PlanAsk, now: number): AskRead {
  const { rotation: settings } = state.rules;
  if (!settings)
    return refused('rotation/not-set-up', 'This unit has no section "rotation" in its file. The lead can add one.');
  const version = at(state.adopted, ask.procedure);
  const procedure = version === undefined ? undefined : at(state.procedures, procedureKey(ask.procedure, version));
  if (!procedure)
    return refused(
      'procedure/unknown',
      'The procedure that is asked for is not adopted in this unit. Choose another one.',
      'procedure',
    );
  const refusal = roomsRefusal(state, ask) ?? lockedRefusal(state, ask);
  if (refusal) return { ok: false, refusal };
  return plannable(state, settings, { ...ask, procedure }, now);
}

function plannable(state: UnitState, settings: RotationSettings, ask: RotationAsk, now: number): AskRead {
  const problem = instanceOf(state, settings, ask, now);
  if (problem.instance.workers.length === 0)
    return refused('rotation/nobody-qualified', 'Nobody who may go in has this procedure. Choose another one.');
  const read = readInstance(problem.instance);
  if (!read.ok) return refused('rotation/not-plannable', notPlannableSentence(read.refusal));
  const kept = new Set(problem.keep.map((entry) => `${entry.worker} ${entry.donningStartMinute}`));
  const minuteOf = (donningAt: number) => Math.floor((donningAt - problem.frame.startAt) / 60_000);
  const notKept = (ask.locked ?? []).filter((one) => !kept.has(`${one.worker} ${minuteOf(one.donningAt)}`));
  return { ok: true, problem, notKept: notKept.map(({ id }) => id) };
}

function roomsRefusal({ rules }: UnitState, { staffInside }: PlanAsk): AskRefusal | undefined {
  const known = new Set<string>(rules.rooms.map(({ id }) => id));
  const stranger = Object.keys(staffInside).find((id) => !known.has(id));
  if (stranger !== undefined)
    return {
      code: 'room/unknown',
      sentence: 'People are asked for in a room that this unit does not have. Load the page again.',
      field: `staffInside.${stranger}`,
    };
  const tooMany = rules.rooms.find(({ id, places }) => (at(staffInside, id) ?? 0) > places);
  if (tooMany)
    return {
      code: 'rotation/too-many-inside',
      sentence: `${tooMany.name} has ${tooMany.places} places.`,
      field: `staffInside.${tooMany.id}`,
    };
  if (Object.values(staffInside).some((count) => count > 0)) return undefined;
  return {
    code: 'rotation/nobody-wanted',
    sentence: 'Ask for at least one person in at least one room.',
    field: 'staffInside',
  };
}

function lockedRefusal(state: UnitState, { locked, procedure }: PlanAsk): AskRefusal | undefined {
  const problem = (index: number, name: string, code: string, sentence: string): AskRefusal => ({
    ...{ code, sentence },
    field: `locked.${index}.${name}`,
  });
  for (const [index, trip] of locked.entries()) {
    if (!at(state.workers, trip.worker))
      return problem(
        index,
        'worker',
        'worker/unknown',
        'A trip that is to stay is of somebody who is no worker of this unit. Let it change.',
      );
    if (!state.rules.rooms.some(({ id }) => id === trip.room))
      return problem(
        index,
        'room',
        'room/unknown',
        'A trip that is to stay goes into a room that this unit does not have. Let it change.',
      );
    if (trip.procedure !== procedure)
      return problem(
        index,
        'procedure',
        'rotation/one-procedure',
        'One plan has one procedure, and a trip that is to stay has another. Let it change.',
      );
  }
  return undefined;
}

const refused = (code: string, sentence: string, field?: string): AskRead => ({
  ok: false,
  refusal: { code, sentence, ...(field !== undefined && { field }) },
});
