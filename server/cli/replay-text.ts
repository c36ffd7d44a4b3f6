import type { ReplayedAlert, ReplayResult } from './replayed-log.ts';

/** The result of a replay as text: the same log gives the same text on every machine, so times are UTC. */
export function replayText(result: ReplayResult): string {
  const { unit, number, hash, lastAt, workers, lanes, observers, alerts, reviews } = result;
  return [
    `unit    ${unit}`,
    `facts   ${number}, the last at ${time(lastAt)}`,
    `hash    ${hash}`,
    ...section(
      'workers',
      Object.entries(workers).map(([id, one]) => [id, where(one), workerNotes(one)]),
    ),
    ...section(
      'lanes',
      Object.entries(lanes).map(([id, { place, worker }]) => [id, place, worker ?? '']),
    ),
    ...section(
      'observers',
      Object.entries(observers).map(([id, one]) => [id, where(one), one.worker ? `with ${one.worker}` : '']),
    ),
    ...section('alerts', alerts.map(alertRow)),
    ...section(
      'to be reviewed',
      reviews.map(({ number, code, worker, sentence }) => [
        String(number),
        code,
        `${worker ? `${worker}: ` : ''}${sentence}`,
      ]),
    ),
    '',
  ].join('\n');
}

function section(title: string, rows: string[][]): string[] {
  if (rows.length === 0) return ['', `${title}: none`];
  const widths = rows.reduce<number[]>((most, row) => row.map((cell, i) => Math.max(cell.length, most[i] ?? 0)), []);
  const lines = rows.map((row) => `  ${row.map((cell, i) => cell.padEnd(widths[i] ?? 0)).join('  ')}`.trimEnd());
  return ['', title, ...lines];
}

const where = ({ place, detail }: { place: string; detail?: string }): string =>
  detail ? `${place}, ${detail}` : place;

function workerNotes({ observer, room, lane, emergency, limitAt }: ReplayResult['workers'][string]): string {
  const notes = [
    room && `room ${room}`,
    lane && `lane ${lane}`,
    observer && `observer ${observer}`,
    limitAt !== undefined && `limit at ${time(limitAt)}`,
    emergency && 'emergency exit',
  ];
  return notes.filter(Boolean).join(', ');
}

function alertRow({ id, priority, kind, subject, raisedAt, level, acknowledged, cleared }: ReplayedAlert): string[] {
  const life = [
    `raised ${time(raisedAt)}`,
    `told up to ${level}`,
    acknowledged ? `acknowledged ${time(acknowledged.at)} by ${acknowledged.by}` : 'not acknowledged',
    cleared ? `cleared ${time(cleared.at)} (${cleared.reason})` : 'open',
  ];
  return [id, priority, kind, subject, life.join('; ')];
}

const time = (ms: number): string =>
  new Date(ms)
    .toISOString()
    .replace('T', ' ')
    .replace(/\.\d+Z$/, ' UTC');
