import { lanes, type LaneEvent } from '../lane/lane-machine.ts';
import type { DraftFact } from '../wire/fact.ts';
import type { LaneId } from '../wire/ids.ts';
import { accept, draft, elsewhere, refuse, withEntry, type Case, type Decider, type Decision } from './decision.ts';
import { minutesMs } from './limit.ts';
import { isInPpe, isLane } from './questions.ts';
import { at, entriesOf, type UnitState } from './state.ts';

/** Reports about lanes. Who steps into one is a worker's report; see decide-moves. */

export const holdLane: Decider<'hold-lane'> = (one) =>
  withEntry(one, one.report.data.worker, (worker) => {
    const { lane, worker: id } = one.report.data;
    if (!isInPpe(worker.machine) || worker.machine.context.entry?.lane)
      return elsewhere(worker, 'in equipment and without a lane');
    const already = entriesOf(one.state.lanes).find(
      ([, other]) => other.value === 'held' && other.context.worker === id,
    );
    if (already?.[0] === lane) return accept();
    if (!isLane(one.state, lane)) return noSuchLane(lane);
    const move = onLane(one, lane, { type: 'hold', at: one.at, worker: id }, () =>
      draft(one, 'lane-held', { lane, worker: id }),
    );
    if ('refusal' in move || !already) return move;
    return accept(draft(one, 'lane-hold-released', { lane: already[0], worker: id }), ...move.facts);
  });

export const releaseLaneHold: Decider<'release-lane-hold'> = (one) => {
  const { lane } = one.report.data;
  const holder = at(one.state.lanes, lane)?.context.worker;
  return onLane(one, lane, { type: 'release hold', at: one.at }, () =>
    draft(one, 'lane-hold-released', { lane, worker: holder as never }),
  );
};

export const clearLane: Decider<'clear-lane'> = (one) => {
  const { lane } = one.report.data;
  const until = at(one.state.lanes, lane)?.context.turnoverUntil ?? 0;
  if (at(one.state.lanes, lane)?.value === 'turnover' && one.at < until)
    return refuse(
      'lane/contact-time',
      `The turnover has ${Math.ceil((until - one.at) / 60_000)} min to go. The surfaces must stay wet for that long.`,
    );
  return onLane(one, lane, { type: 'clear', at: one.at }, () => draft(one, 'lane-cleared', { lane }));
};

export const closeLane: Decider<'close-lane'> = (one) => {
  const { lane, reason } = one.report.data;
  return onLane(one, lane, { type: 'close', at: one.at, reason }, () => draft(one, 'lane-closed', { lane, reason }));
};

/** A lane that reopens is cleaned before anybody uses it. */
export const reopenLane: Decider<'reopen-lane'> = (one) => {
  const { lane } = one.report.data;
  const turnoverUntil = one.at + turnoverMs(one.state, lane);
  return onLane(one, lane, { type: 'reopen', at: one.at, turnoverUntil }, () =>
    draft(one, 'lane-reopened', { lane, turnoverUntil }),
  );
};

/** How long the surfaces of a lane must stay wet, milliseconds. */
export function turnoverMs(state: UnitState, lane: LaneId): number {
  return minutesMs(state.rules.lanes.find((one) => one.id === lane)?.turnoverMinutes ?? 0);
}

const noSuchLane = (lane: LaneId): Decision => refuse('lane/unknown', `There is no lane "${lane}" in this unit.`);

function onLane(one: Case, lane: LaneId, event: LaneEvent, fact: () => DraftFact): Decision {
  const found = at(one.state.lanes, lane);
  if (!found) return noSuchLane(lane);
  if (lanes.can(found, event)) return accept(fact());
  return refuse(
    'lane/not-free',
    `This lane is ${String(found.value)}, so that cannot be done now. Look at the board again.`,
  );
}
