import type { Plan, PlannedEntry, RotationInstance } from './instance.ts';

/**
 * Looks a plan over once more before it is told, minute by minute and from the rules alone: nothing of the search is used here, so
 * that a mistake there cannot vouch for itself. The first rule that is broken as a sentence, or nothing.
 */
export function brokenRule(instance: RotationInstance, plan: Plan): string | undefined {
  return (
    firstOf(plan.entries, (entry) => entryBreaks(instance, entry)) ??
    firstOf(instance.inside, ({ worker }) => exitBreaks(plan, worker)) ??
    firstOf(instance.workers, (worker) => workerBreaks(instance, plan, worker)) ??
    lanesBreak(instance, plan) ??
    observersBreak(instance, plan) ??
    breaksBreak(instance, plan)
  );
}

type Worker = RotationInstance['workers'][number];
type Span = readonly [from: number, to: number];

function firstOf<One>(ones: readonly One[], broken: (one: One) => string | undefined): string | undefined {
  for (const one of ones) {
    const sentence = broken(one);
    if (sentence !== undefined) return sentence;
  }
  return undefined;
}

const insideFrom = ({ durations }: RotationInstance, entry: PlannedEntry) =>
  entry.donningStartMinute + durations.donning;
const exitAt = (instance: RotationInstance, entry: PlannedEntry) => insideFrom(instance, entry) + entry.insideMinutes;

function entryBreaks(instance: RotationInstance, entry: PlannedEntry): string | undefined {
  const { durations, rooms, lanes, observers, slotMinutes } = instance;
  const worker = instance.workers.find(({ id }) => id === entry.worker);
  if (!worker) return `${entry.worker} is not among the workers`;
  if (!rooms.some(({ id }) => id === entry.room)) return `${entry.room} is not among the rooms`;
  if (entry.donningStartMinute % slotMinutes !== 0) return `${entry.worker} starts donning off the slots`;
  if (!(entry.lane >= 0 && entry.lane < lanes)) return `${entry.worker} leaves by a lane that is not there`;
  const { observerDonning, observerDoffing } = entry;
  if (!(observerDoffing >= 0 && observerDoffing < observers)) return `nobody watches ${entry.worker} doffing`;
  const dutyEnd = worker.onDutyToMinute ?? Infinity;
  if (exitAt(instance, entry) + durations.doffing + durations.postCheck > dutyEnd)
    return `${entry.worker} is not done before the end of the duty`;
  if (entry.ongoing) return ongoingBreaks(instance, entry);
  if (observerDonning === null || !(observerDonning >= 0 && observerDonning < observers))
    return `nobody watches ${entry.worker} donning`;
  return newBreaks(instance, worker, entry);
}

function newBreaks(
  { insideMinutesAllowed }: RotationInstance,
  worker: Worker,
  entry: PlannedEntry,
): string | undefined {
  const earliest = Math.max(0, worker.onDutyFromMinute, worker.busyUntilMinute);
  if (entry.donningStartMinute < earliest) return `${entry.worker} starts donning before being ready`;
  if (!insideMinutesAllowed.includes(entry.insideMinutes))
    return `${entry.worker} stays for a time that is not allowed`;
  return undefined;
}

function ongoingBreaks(instance: RotationInstance, entry: PlannedEntry): string | undefined {
  const person = instance.inside.find(({ worker }) => worker === entry.worker);
  if (!person || person.room !== entry.room) return `${entry.worker} is not inside ${entry.room}`;
  if (insideFrom(instance, entry) !== person.sinceMinute) return `${entry.worker} is inside since another minute`;
  if (exitAt(instance, entry) < instance.slotMinutes) return `${entry.worker} leaves before a slot has passed`;
  if (entry.insideMinutes % instance.slotMinutes !== 0) return `${entry.worker} leaves off the slots`;
  const most = Math.max(...instance.insideMinutesAllowed) + instance.maxOverrunMinutes;
  return entry.insideMinutes > most ? `${entry.worker} stays longer than every overrun allows` : undefined;
}

function exitBreaks({ entries }: Plan, worker: string): string | undefined {
  const exits = entries.filter((entry) => entry.ongoing && entry.worker === worker).length;
  return exits === 1 ? undefined : `${worker} is inside and leaves ${exits} times`;
}

function workerBreaks(instance: RotationInstance, { entries }: Plan, worker: Worker): string | undefined {
  const { durations, perPerson } = instance;
  const own = entries.filter((entry) => entry.worker === worker.id);
  if (own.length === 0) return undefined;
  if (worker.entriesSoFar + own.length > perPerson.maxEntries) return `${worker.id} enters too often`;
  const minutes = own.reduce((sum, { insideMinutes }) => sum + insideMinutes + durations.doffing, 0);
  if (worker.minutesInEquipmentSoFar + minutes > perPerson.maxMinutesInEquipment)
    return `${worker.id} is in equipment too long`;
  const after = durations.doffing + durations.postCheck + durations.rest;
  const busy = own.map((entry): Span => [entry.donningStartMinute, exitAt(instance, entry) + after]);
  return meeting(busy) ? `${worker.id} is in two entries at once` : undefined;
}

function lanesBreak(instance: RotationInstance, { entries }: Plan): string | undefined {
  const { doffing, turnover } = instance.durations;
  const use = spansBy(entries, (entry) => [
    [entry.lane, [exitAt(instance, entry), exitAt(instance, entry) + doffing + turnover]],
  ]);
  return firstOf([...use], ([lane, spans]) => (meeting(spans) ? `lane ${lane} is taken twice at once` : undefined));
}

function observersBreak(instance: RotationInstance, { entries, breaks }: Plan): string | undefined {
  const { doffing } = instance.durations;
  const watching = spansBy(entries, (entry) => {
    const exit = exitAt(instance, entry);
    const doff: [number, Span] = [entry.observerDoffing, [exit, exit + doffing]];
    if (entry.ongoing || entry.observerDonning === null) return [doff];
    return [doff, [entry.observerDonning, [entry.donningStartMinute, insideFrom(instance, entry)]]];
  });
  for (const { observer, startMinute } of breaks) {
    const span: Span = [startMinute, startMinute + instance.observerBreak.minutes];
    watching.set(observer, [...(watching.get(observer) ?? []), span]);
  }
  return firstOf([...watching], ([observer, spans]) =>
    meeting(spans) ? `observer ${observer} has two things to do at once` : undefined,
  );
}

/** Every observer one break in every full period, all of it inside. */
function breaksBreak(instance: RotationInstance, { breaks }: Plan): string | undefined {
  const { minutes, everyMinutes } = instance.observerBreak;
  const periods = minutes === 0 ? 0 : Math.floor(instance.horizonMinutes / everyMinutes);
  const seen = new Set<string>();
  for (const { observer, startMinute } of breaks) {
    const period = Math.floor(startMinute / everyMinutes);
    const isInside = period >= 0 && period < periods && startMinute + minutes <= (period + 1) * everyMinutes;
    if (!isInside || startMinute % instance.slotMinutes !== 0 || observer >= instance.observers)
      return `the break of observer ${observer} at minute ${startMinute} is not in a period of theirs`;
    seen.add(`${observer} ${period}`);
  }
  const wanted = instance.observers * periods;
  return seen.size === wanted && breaks.length === wanted
    ? undefined
    : 'not every observer has one break in each period';
}

function spansBy(
  entries: readonly PlannedEntry[],
  spansOf: (entry: PlannedEntry) => readonly (readonly [number, Span])[],
): Map<number, Span[]> {
  const by = new Map<number, Span[]>();
  for (const [number, span] of entries.flatMap(spansOf)) by.set(number, [...(by.get(number) ?? []), span]);
  return by;
}

/** Whether two of them share a minute; spans of no length meet nothing. */
function meeting(spans: readonly Span[]): boolean {
  const sorted = spans.filter(([from, to]) => to > from).sort((a, b) => a[0] - b[0]);
  return sorted.some(([from], index) => index > 0 && sorted[index - 1]![1] > from);
}
