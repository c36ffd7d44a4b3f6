import type { AlertState } from '../../machines/alert/alert-machine.ts';
import { nextClimb } from '../../machines/unit/deadlines.ts';
import type { UnitRules } from '../../machines/unit/state.ts';
import type { AlertLevel } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';

/** What became of an alert so far, in the order it happened: who was shown it, how far it climbed, who answered. */
export type TrailMark =
  | { what: 'began'; at: number }
  | { what: 'raised'; at: number }
  | { what: 'told'; at: number; person: PersonId | undefined; device: DeviceId }
  | { what: 'climbed'; at: number; level: AlertLevel }
  | { what: 'acknowledged'; at: number; person: PersonId };

export interface Trail {
  marks: TrailMark[];
  level: AlertLevel;
  /** When it climbs next, and to whom, unless somebody answers. */
  next: { at: number; level: AlertLevel } | undefined;
}

/** A cause is told apart from its alert when it became known this much later. */
const knownLateMs = 2_000;

export function trailOf(rules: UnitRules, alert: AlertState): Trail {
  const { since, raisedAt, level, levelSince, told, acknowledgedBy, acknowledgedAt } = alert.context;
  const marks: TrailMark[] = [
    ...(raisedAt - since >= knownLateMs ? [{ what: 'began' as const, at: since }] : []),
    { what: 'raised', at: raisedAt },
    ...firstPerPerson(told).map(({ person, device, at }) => ({ what: 'told' as const, at, person, device })),
    ...(levelSince > raisedAt ? [{ what: 'climbed' as const, at: levelSince, level }] : []),
    ...(acknowledgedBy !== undefined && acknowledgedAt !== undefined
      ? [{ what: 'acknowledged' as const, at: acknowledgedAt, person: acknowledgedBy }]
      : []),
  ];
  return { marks: marks.sort((a, b) => a.at - b.at || 0), level, next: nextClimb(rules, alert) };
}

/** Somebody with two screens was told once: the first time counts. */
function firstPerPerson(told: AlertState['context']['told']): AlertState['context']['told'] {
  const known = new Set<string>();
  return [...told]
    .sort((a, b) => a.at - b.at)
    .filter(({ person, device }) => {
      const who = person ?? device;
      if (known.has(who)) return false;
      known.add(who);
      return true;
    });
}
