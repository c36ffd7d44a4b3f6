import { Router, type Request, type RequestHandler } from 'express';
import type { Clock } from '../clock.ts';
import { planAsk, type AskRefusal } from '../rotation/live/plan-ask.ts';
import { planView } from '../rotation/live/plan-view.ts';
import type { KeptPlan } from '../rotation/live/rotation-service.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { jsonBodyUpTo, parsedJson } from './posted.ts';
import { RequestError } from './request-error.ts';

/** As many locked trips as a rotation may have. */
const askBytesMax = 128 * 1024;
type OfPlan = Request<{ unit: string; id: string }>;

/** Plans of the rotation over plain HTTP: asked for, followed, ended. Nothing here changes the unit: adopting is a report. */
export function rotationRoutes(units: ServedUnits, clock: Clock): Router {
  const router = Router();
  const ofUnit: RequestHandler<{ unit: string }> = (request, _response, next) => {
    unitOf(units, request);
    next();
  };
  router.get('/units/:unit/rotation/plans', (request, response) => {
    const plans = unitOf(units, request).rotations.all;
    response.json({ plans: plans.map(({ id, status, askedAt }) => ({ id, status, askedAt })) });
  });
  router.post('/units/:unit/rotation/plans', ofUnit, jsonBodyUpTo(askBytesMax), (request, response) => {
    const started = unitOf(units, request).rotations.start(askIn(request));
    if (!started.ok) throw refusal(started.refusal);
    response.status(202).json({ id: started.id });
  });
  router.get('/units/:unit/rotation/plans/:id', (request, response) => {
    response.json(planView(planOf(unitOf(units, request), request), clock.now()));
  });
  router.delete('/units/:unit/rotation/plans/:id', (request, response) => {
    const unit = unitOf(units, request);
    const plan = planOf(unit, request);
    unit.rotations.cancel(plan);
    response.json(planView(plan, clock.now()));
  });
  router.get('/units/:unit/rotation/repair', (request, response) => {
    response.json(repairOf(unitOf(units, request)));
  });
  return router;
}

function repairOf({ authority, repairs }: ServedUnit) {
  const now = repairs.now;
  const nothing = { forNumber: authority.head.number, changes: [], ready: false };
  switch (now.is) {
    case 'not-needed':
      return { ...nothing, needed: false, departures: [], betterMayFollow: false };
    case 'working':
      return { ...nothing, needed: true, departures: now.departures, betterMayFollow: true };
    case 'none':
      return { ...nothing, needed: true, departures: now.departures, betterMayFollow: false };
    case 'offered': {
      const { forNumber, departures, changes, rotation, uncoveredMinutes, isLast } = now.offer;
      const offered = { forNumber, departures, changes, rotation, uncoveredMinutes };
      return { ...offered, needed: true, ready: true, betterMayFollow: !isLast };
    }
    default:
      return now satisfies never;
  }
}

function askIn(request: Request<{ unit: string }>) {
  const read = planAsk.safeParse(parsedJson(request));
  if (read.success) return read.data;
  const [issue] = read.error.issues;
  const keys = issue?.code === 'unrecognized_keys' ? issue.keys.slice(0, 1) : [];
  const field = [...(issue?.path ?? []), ...keys].join('.').slice(0, 60);
  const sentence = `${field || 'The question'}: ${issue?.message ?? 'not right'}.`;
  throw new RequestError(400, 'rotation/not-understood', sentence, { where: field ? { field } : {} });
}

/** What names a field is a mistake of the question; the rest is the unit as it is now. */
function refusal({ code, sentence, field }: AskRefusal): RequestError {
  return field === undefined
    ? new RequestError(409, code, sentence)
    : new RequestError(400, code, sentence, { where: { field: field.slice(0, 60) } });
}

function planOf({ rotations }: ServedUnit, { params }: OfPlan): KeptPlan {
  const plan = rotations.find(params.id);
  if (plan) return plan;
  throw new RequestError(
    404,
    'rotation/no-such-plan',
    'There is no such plan; only the last few are kept. Plan again.',
  );
}

function unitOf(units: ServedUnits, { params }: { params: { unit: string } }): ServedUnit {
  const unit = [...units.values()].find(({ id }) => id === params.unit);
  if (unit) return unit;
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}
