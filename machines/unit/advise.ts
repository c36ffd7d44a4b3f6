import type { FactAuthor, DraftFact } from '../wire/fact.ts';
import type { EntryId, PersonId, RoomId } from '../wire/ids.ts';
import { byWatch, settle } from './deadlines.ts';
import type { Climate } from './heat-settings.ts';
import { governingLimit, isAnotherLimit, minutesMs, type LimitAdvice } from './limit.ts';
import { add, type Gathering } from './number.ts';
import { isInPpe, procedureOf } from './questions.ts';
import { at, type UnitState, type UnitWorker } from './state.ts';

/**
 * What the server's calculations (heat strain, the forecast of waits) and sensors bring to a unit. The calculations only
 * advise: which limit governs is decided here, on the state as it is when the advice arrives, and is a fact only when it says
 * something new, so a replay never depends on today's formulas.
 */
export interface Advice extends LimitAdvice {
  worker: PersonId;
  /** The entry it was computed for; advice for one that is over is dropped. */
  entry: EntryId;
  /** Over the screening limit: minutes of work until somebody looks after the worker, again and again. */
  check?: { everyMinutes: number; reason: string; source: string } | undefined;
}

export function acceptAdvice(state: UnitState, advice: readonly Advice[], now: number): Gathering {
  const before = settle({ state, facts: [] }, now);
  const advised = advice.reduce((sofar, one) => follow(sofar, one, now), before);
  return advised === before ? { state, facts: [] } : settle(advised, now);
}

function follow(sofar: Gathering, advice: Advice, now: number): Gathering {
  return [limitFact, checkFact].reduce((gathering, factOf) => {
    const worker = at(gathering.state.workers, advice.worker);
    const isOf = worker?.machine.context.entry?.id === advice.entry && isInPpe(worker.machine);
    const fact = isOf && factOf(gathering.state, worker, advice, Math.max(now, worker.lastAt));
    return fact ? add(gathering, { ...fact, receivedAt: now }) : gathering;
  }, sofar);
}

function limitFact(state: UnitState, worker: UnitWorker, advice: Advice, now: number): DraftFact | undefined {
  const { entry } = worker.machine.context;
  if (entry?.donnedAt === undefined) return undefined;
  const next = governingLimit(state.rules, procedureOf(state, entry), worker, entry.donnedAt, advice);
  if (!isAnotherLimit(entry.limit, next)) return undefined;
  return byWatch('limit-set', { worker: advice.worker, entry: advice.entry, ...next }, now, now);
}

/** The first check counts from the start of the clock, the next from the last; a shorter interval brings it forward. */
function checkFact(_: UnitState, worker: UnitWorker, advice: Advice, now: number): DraftFact | undefined {
  const { entry } = worker.machine.context;
  if (!advice.check || entry?.donnedAt === undefined || worker.overSince !== undefined) return undefined;
  const { everyMinutes, reason, source } = advice.check;
  const known = worker.check;
  if (known && known.everyMinutes <= everyMinutes) return undefined;
  const countsFrom = known ? known.dueAt - minutesMs(known.everyMinutes) : entry.donnedAt;
  const dueAt = countsFrom + minutesMs(everyMinutes);
  return byWatch(
    'check-set',
    { worker: advice.worker, entry: advice.entry, dueAt, everyMinutes, reason, source },
    now,
    now,
  );
}

export interface RoomReading {
  room: RoomId;
  climate: Climate;
  /** When it was measured; a time to come counts as now. */
  measuredAt: number;
}

/** Readings of a sensor. Rooms must be the unit's own: whoever calls has checked that. */
export function acceptReadings(
  state: UnitState,
  readings: readonly RoomReading[],
  sensor: string,
  now: number,
): Gathering {
  const due = settle({ state, facts: [] }, now);
  const by: FactAuthor = { sensor };
  const facts = readings.map(({ room, climate, measuredAt }): DraftFact => {
    const counted = Math.min(now, measuredAt);
    return { kind: 'climate-recorded', data: { room, climate }, at: counted, receivedAt: now, by };
  });
  return settle(facts.reduce(add, due), now);
}
