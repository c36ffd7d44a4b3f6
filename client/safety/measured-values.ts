import type { Bounds, VitalName } from '../../machines/unit/settings.ts';
import { isAt } from '../../machines/unit/questions.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import type { Measured, Remembered } from '../state/remembered.ts';
import { verdictOf, vitalFields, type VitalVerdict } from '../observer/vitals.ts';

/** One vital sign as it was measured, against what the unit allows. */
export interface MeasuredSign {
  name: VitalName;
  value: number | undefined;
  low: number | undefined;
  high: number | undefined;
  verdict: VitalVerdict;
}

/** A worker who is held at a check, with what was measured if this page was open when it was. */
export interface Hold {
  worker: PersonId;
  check: 'pre-check' | 'post-check';
  because: 'vitals-out-of-bounds' | 'not-ready';
  bounds: Bounds;
  boundsSource: string;
  measured: Measured | undefined;
  signs: MeasuredSign[];
}

export function holdOf(state: UnitState, id: PersonId, remembered: Remembered): Hold | undefined {
  const worker = at(state.workers, id);
  const entry = worker?.machine.context.entry;
  if (!worker || !entry) return undefined;
  const before = isAt(worker.machine, 'pre-check', 'held');
  if (!before && !isAt(worker.machine, 'post-check', 'held')) return undefined;
  const check = before ? 'pre-check' : 'post-check';
  const { bounds, source } = before ? state.rules.preCheck : state.rules.postCheck;
  const known = at(remembered, id);
  const measured = known?.check === check && known.entry === entry.id ? known : undefined;
  return {
    worker: id,
    check,
    because: before && entry.screening === 'not-ready' ? 'not-ready' : 'vitals-out-of-bounds',
    bounds,
    boundsSource: source,
    measured,
    signs: measured ? signsOf(bounds, measured) : [],
  };
}

/** Every sign the unit has a bound for, measured or not. */
function signsOf(bounds: Bounds, { vitals }: Measured): MeasuredSign[] {
  return vitalFields(bounds).map((field) => ({
    name: field.name,
    value: vitals[field.name],
    low: field.low,
    high: field.high,
    verdict: verdictOf(field, vitals[field.name]),
  }));
}
