import type { AfterEntry } from '../heat/after-entry.ts';
import type { EntryId, PersonId } from '../wire/ids.ts';
import { wornInDay } from '../worker/worker-machine.ts';
import { checkVitals } from './vitals.ts';
import {
  accept,
  draft,
  elsewhere,
  guiding,
  onDuty,
  refuse,
  withEntry,
  type Case,
  type Decider,
  type Decision,
} from './decision.ts';
import { releaseFacts } from './decide-duty.ts';
import { effectOf, judge } from './decide-heat.ts';
import { minutesMs } from './limit.ts';
import { nextNumber } from './number.ts';
import { assistedBy, boundFor, detailOf, holderOf, isAt, isInPpe, placeOf, procedureOf } from './questions.ts';
import { qualificationRefusal } from './qualification.ts';
import { at, procedureKey, type UnitState, type UnitWorker } from './state.ts';

/** Reports about the cold side: the call, the pre-check, the kit, holds, the post-check and standing down. */

export const callWorker: Decider<'call-worker'> = (one) => {
  const { worker: id, room, procedure, observer, despiteRest } = one.report.data;
  const { state } = one;
  const worker = at(state.workers, id);
  const person = at(state.roster, id);
  if (person && !person.roles.includes('worker'))
    return refuse('worker/not-a-worker', `The roster does not list "${id}" as a worker. The lead can change that.`);
  if (!worker || !person)
    return refuse('worker/unknown', `Nobody called "${id}" is a worker of this unit. Choose somebody from the board.`);
  const version = at(state.adopted, procedure);
  const adopted = version === undefined ? undefined : state.procedures[procedureKey(procedure, version)];
  if (!adopted) return refuse('procedure/unknown', `No procedure called "${procedure}" is adopted in this unit.`);
  const found = state.rules.rooms.find((one) => one.id === room);
  if (!found) return refuse('room/unknown', `There is no room "${room}" in this unit.`);
  const blocked =
    notCallable(one, id, worker) ??
    qualificationRefusal(state.rules, person, adopted, one.receivedAt) ??
    (boundFor(state, room).length >= found.places
      ? refuse(
          'room/full',
          `All ${found.places} places of ${found.name} are taken or promised. Call somebody out first.`,
        )
      : undefined) ??
    (observer && expectationRefusal(state, id, observer));
  if (blocked) return blocked;
  const rest = worker.machine.context.rest;
  return accept(
    draft(one, 'worker-called', {
      worker: id,
      entry: `E${nextNumber(state)}` as EntryId,
      room,
      procedure,
      version: adopted.version,
      ...(observer && { observer }),
      ...(rest &&
        despiteRest && {
          restCutShort: { minutesLeft: Math.ceil((rest.until - one.at) / 60_000), reason: despiteRest },
        }),
    }),
  );
};

function notCallable(
  one: Case<Parameters<typeof callWorker>[0]['report']>,
  id: PersonId,
  worker: UnitWorker,
): Decision | undefined {
  const { machine } = worker;
  const { rules } = one.state;
  const observer = at(one.state.observers, id);
  if (observer && observer.value !== 'off-shift')
    return refuse(
      'worker/guiding-somebody',
      'This person is on duty as an observer. They end their duty before they are called.',
    );
  if (assistedBy(one.state, id))
    return refuse('worker/guiding-somebody', 'This person is assisting at a doffing. Call them when that is done.');
  if (placeOf(machine) !== 'rest') return elsewhere(worker, 'free to be called');
  if (isAt(machine, 'rest', 'stood-down'))
    return refuse(
      'worker/stood-down',
      `This worker is stood down: ${machine.context.stoodDownBecause ?? 'no reason given'}. The safety officer can lift it.`,
    );
  const barredUntil = worker.after?.barredUntil;
  if (barredUntil !== undefined && one.at < barredUntil)
    return refuse(
      'worker/not-again-today',
      'What was measured after the last entry rules out another one today. Call somebody else; occupational health decides.',
    );
  const worn = wornInDay(machine.context, one.at);
  if (worn.entries >= rules.perDay.entries || worn.minutes >= rules.perDay.minutesInPpe)
    return refuse(
      'worker/day-is-full',
      `${worn.entries} entries and ${Math.round(worn.minutes)} min in PPE within 24 hours: the unit allows ${rules.perDay.entries} and ${rules.perDay.minutesInPpe} min. Call somebody else.`,
    );
  if (machine.context.rest && !one.report.data.despiteRest) {
    const left = Math.ceil((machine.context.rest.until - one.at) / 60_000);
    return refuse(
      'worker/resting',
      `The rest has ${left} min to go (${machine.context.rest.reason}). Call somebody else, or call anyway with a reason.`,
    );
  }
  return undefined;
}

/** Why somebody can't be expected to watch this worker. */
function expectationRefusal(state: UnitState, worker: PersonId, observer: PersonId): Decision | undefined {
  if (!at(state.observers, observer))
    return refuse('observer/unknown', `Nobody called "${observer}" is an observer of this unit.`);
  return observer === worker ? refuse('observer/in-an-entry', 'Nobody can be their own observer.') : undefined;
}

export const cancelEntry: Decider<'cancel-entry'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, reason } = one.report.data;
    if (!isAt(worker.machine, 'pre-check'))
      return elsewhere(worker, 'at the pre-check; in equipment the way out is a lane');
    return accept(
      ...releaseFacts(one, id, entry.id),
      draft(one, 'entry-cancelled', { worker: id, entry: entry.id, reason }),
    );
  });

export const assignObserver: Decider<'assign-observer'> = (one) =>
  withEntry(one, one.report.data.worker, (_, entry) => {
    const { worker: id, observer } = one.report.data;
    const unfit = expectationRefusal(one.state, id, observer);
    if (unfit) return unfit;
    if (at(one.state.observers, observer)?.value === 'off-shift')
      return refuse('observer/not-on-duty', 'This observer is not on duty. Choose another.');
    return accept(draft(one, 'observer-assigned', { worker: id, entry: entry.id, observer }));
  });

export const recordScreening: Decider<'record-screening'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const { worker: id, points, vitals } = one.report.data;
      if (!isAt(worker.machine, 'pre-check', 'screening') && !isAt(worker.machine, 'pre-check', 'held'))
        return elsewhere(worker, 'at the pre-check');
      const required = procedureOf(one.state, entry).readiness.map((point) => point.id);
      const stray = points.find((point) => !required.includes(point));
      if (stray) return refuse('point/unknown', `"${stray}" is not a readiness point of this procedure.`);
      const missingPoints = required.filter((point) => !points.includes(point));
      const { findings } = checkVitals(one.state.rules.preCheck.bounds, vitals);
      const verdict = findings.length > 0 ? 'vitals-out-of-bounds' : missingPoints.length > 0 ? 'not-ready' : 'passed';
      const data = { worker: id, entry: entry.id, verdict, missingPoints } as const;
      return accept(draft(one, 'screening-recorded', data, { salt: one.salt, vitals, findings }));
    }),
  );

export const confirmKitItem: Decider<'confirm-kit-item'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const { worker: id, item } = one.report.data;
      const kit = procedureOf(one.state, entry).kit.map((point) => point.id);
      if (!kit.includes(item)) return refuse('point/unknown', `"${item}" is not in the kit of this procedure.`);
      if (!isAt(worker.machine, 'pre-check', 'kit')) return elsewhere(worker, 'at the kit check');
      if (!entry.outstanding.kit.includes(item)) return accept();
      return accept(draft(one, 'kit-item-confirmed', { worker: id, entry: entry.id, item }));
    }),
  );

export const releaseHold: Decider<'release-hold'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, reason } = one.report.data;
    if (isAt(worker.machine, 'pre-check', 'held'))
      return accept(draft(one, 'hold-released', { worker: id, entry: entry.id, hold: 'pre-check', reason }));
    if (!isAt(worker.machine, 'post-check', 'held')) return elsewhere(worker, 'held');
    const restUntil = one.at + minutesMs(one.state.rules.rest.afterOverrunMinutes);
    return accept(
      ...releaseFacts(one, id, entry.id),
      draft(one, 'hold-released', { worker: id, entry: entry.id, hold: 'post-check', reason, restUntil }),
    );
  });

/** After doffing: the vital signs, and the rest they lead to. Any observer on duty may record it. */
export const recordPostCheck: Decider<'record-post-check'> = (one) =>
  onDuty(one, () =>
    withEntry(one, one.report.data.worker, (worker, entry) => {
      const { worker: id, vitals, strain } = one.report.data;
      if (!isAt(worker.machine, 'post-check')) return elsewhere(worker, 'at the post-check');
      const { findings } = checkVitals(one.state.rules.postCheck.bounds, vitals);
      const overran = entry.limit !== undefined && (entry.doffedAt ?? one.at) > entry.limit.limitAt;
      const { rest, heat } = one.state.rules;
      const judged = heat && judge(heat, strain);
      if (judged && !judged.ok) return refuse('measurement/absurd', `${judged.refusal.message}. Measure again.`);
      const heavier = judged?.value;
      const usual = overran ? rest.afterOverrunMinutes : rest.minutes;
      const restMinutes = Math.max(usual, asksForLongerRest(heavier) ? heavier.restMin : 0);
      const after = heat && heavier && effectOf(heavier, heat, one.at);
      const data = {
        worker: id,
        entry: entry.id,
        verdict: findings.length > 0 || asksForHelp(heavier) ? ('vitals-out-of-bounds' as const) : ('passed' as const),
        restMinutes,
        restUntil: one.at + minutesMs(restMinutes),
        restReason: restReason(restMinutes, overran, restMinutes > usual),
        ...(after && { after }),
      };
      const found = [...findings, ...(heavier?.because.map((rule) => rule.words) ?? [])];
      const confidential = { salt: one.salt, vitals, findings: found, ...(strain && { strain }) };
      const fact = draft(one, 'post-check-recorded', data, confidential);
      return accept(...(holderOf(one.state, id) ? releaseFacts(one, id, entry.id) : []), fact);
    }),
  );

/** Found after an entry, these want a person beside the worker now, not only a longer rest: held, and the officer is told. */
const helpRules = ['severe-symptoms', 'core-temperature', 'oral-temperature-bar'];
const asksForHelp = (judged: AfterEntry | undefined): boolean =>
  judged?.because.some((rule) => helpRules.includes(rule.id)) ?? false;

const asksForLongerRest = (judged: AfterEntry | undefined): judged is AfterEntry =>
  judged?.because.some((rule) => rule.effects.includes('longer-rest')) ?? false;

function restReason(minutes: number, overran: boolean, isLonger: boolean): string {
  if (isLonger) return `${minutes} min of rest: what was measured after the entry asks for more`;
  return overran ? `${minutes} min of rest: the limit was passed` : `${minutes} min of rest after each entry`;
}

export const standDown: Decider<'stand-down'> = (one) => {
  const { worker: id, reason } = one.report.data;
  const worker = at(one.state.workers, id);
  if (!worker) return refuse('worker/unknown', `Nobody called "${id}" is a worker of this unit.`);
  if (isInPpe(worker.machine) || isAt(worker.machine, 'pre-check'))
    return elsewhere(worker, 'out of equipment; cancel the entry or bring them out first');
  if (isAt(worker.machine, 'rest', 'stood-down')) return accept();
  if (isAt(worker.machine, 'post-check') && detailOf(worker.machine) !== 'held')
    return elsewhere(worker, 'resting or held');
  const entry = worker.machine.context.entry;
  return accept(...(entry ? releaseFacts(one, id, entry.id) : []), draft(one, 'stood-down', { worker: id, reason }));
};

export const liftStandDown: Decider<'lift-stand-down'> = (one) => {
  const { worker: id, reason } = one.report.data;
  const worker = at(one.state.workers, id);
  if (!worker) return refuse('worker/unknown', `Nobody called "${id}" is a worker of this unit.`);
  if (!isAt(worker.machine, 'rest', 'stood-down')) return elsewhere(worker, 'stood down');
  return accept(draft(one, 'stand-down-lifted', { worker: id, reason }));
};
