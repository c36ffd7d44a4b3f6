import type { ReadinessPoint } from '../../machines/procedure/procedure.ts';
import type { StrainMeasured } from '../../machines/unit/heat-settings.ts';
import type { Bounds, VitalName, Vitals } from '../../machines/unit/settings.ts';
import type { PointId } from '../../machines/wire/ids.ts';
import { verdictOf, vitalFields, type VitalField, type VitalVerdict } from './vitals.ts';

/**
 * A check before or after an entry: points asked one by one, then vital signs one by one, then everything once more before it
 * is sent. The answers so far are this tablet's own until they are sent.
 */
export interface CheckDraft {
  answers: Readonly<Partial<Record<PointId, 'yes' | 'not-yet'>>>;
  vitals: Readonly<Partial<Record<VitalName, number | 'not-measured'>>>;
  /** Asked again, from the list at the end. */
  again?: PointId | VitalName;
  /** After a hold: the observer has said that it is measured again. */
  begun: boolean;
  /** Measured besides the vital signs, where the unit goes by it. */
  further?: StrainMeasured;
  /** When the worker sat down, for the times of the recovery pulse. */
  satAt?: number;
}

export const emptyCheck: CheckDraft = { answers: {}, vitals: {}, begun: false };

export interface CheckQuestions {
  points: readonly ReadinessPoint[];
  bounds: Bounds;
}

export type CheckPage =
  | { ask: 'point'; point: ReadinessPoint; number: number; total: number }
  | { ask: 'vital'; field: VitalField; number: number; total: number }
  | { ask: 'send'; points: PointRow[]; vitals: VitalRow[]; missing: boolean };

export interface PointRow {
  point: ReadinessPoint;
  answer: 'yes' | 'not-yet';
}
export interface VitalRow {
  field: VitalField;
  value: number | undefined;
  verdict: VitalVerdict;
}

export function checkPage({ points, bounds }: CheckQuestions, draft: CheckDraft): CheckPage {
  const fields = vitalFields(bounds);
  const total = points.length + fields.length;
  const ask = <T>(list: readonly T[], before: number, isNext: (one: T) => boolean) => {
    const index = list.findIndex(isNext);
    const one = list[index];
    return one && { one, number: before + index + 1, total };
  };
  const isAgain = (id: string) => draft.again === id;
  const point =
    ask(points, 0, (one) => isAgain(one.id)) ??
    (draft.again === undefined ? ask(points, 0, (one) => draft.answers[one.id] === undefined) : undefined);
  if (point) return { ask: 'point', point: point.one, number: point.number, total };
  const field =
    ask(fields, points.length, (one) => isAgain(one.name)) ??
    ask(fields, points.length, (one) => draft.vitals[one.name] === undefined);
  if (field) return { ask: 'vital', field: field.one, number: field.number, total };
  return sendPage(points, fields, draft);
}

function sendPage(points: readonly ReadinessPoint[], fields: readonly VitalField[], draft: CheckDraft): CheckPage {
  const vitals = fields.map((field) => {
    const value = measured(draft.vitals[field.name]);
    return { field, value, verdict: verdictOf(field, value) };
  });
  const rows = points.map((point) => ({ point, answer: draft.answers[point.id] ?? ('not-yet' as const) }));
  const missing = rows.some((one) => one.answer === 'not-yet') || vitals.some((one) => one.verdict === 'not-measured');
  return { ask: 'send', points: rows, vitals, missing };
}

const measured = (value: number | 'not-measured' | undefined): number | undefined =>
  value === 'not-measured' ? undefined : value;

/** What goes into the report: the points answered with yes, the signs that were measured. */
export function checkReport(draft: CheckDraft): { points: PointId[]; vitals: Vitals } {
  const points = Object.entries(draft.answers).filter(([, answer]) => answer === 'yes');
  const vitals = Object.entries(draft.vitals).filter(([, value]) => typeof value === 'number');
  return { points: points.map(([id]) => id as PointId), vitals: Object.fromEntries(vitals) as Vitals };
}

/** After the report went out and the worker is held: what was fine need not be asked twice, what was measured must. */
export function checkAfterSending(draft: CheckDraft): CheckDraft {
  const fine = Object.entries(draft.answers).filter(([, answer]) => answer === 'yes');
  return { ...emptyCheck, answers: Object.fromEntries(fine) };
}
