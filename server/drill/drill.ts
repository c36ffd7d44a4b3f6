import { workersIn } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId, UnitId } from '../../machines/wire/ids.ts';
import type { Role } from '../../machines/wire/rights.ts';
import { seededChance, type Chance } from '../seeded-chance.ts';
import { between, pick } from './chance.ts';
import type { DrillClock } from './drill-clock.ts';
import { DrillDevice } from './drill-device.ts';
import { nextIntent, wouldBeAccepted, type Intent, type Player } from './habits.ts';

/**
 * A drill: invented people at simulated screens, over the real sockets. First the last hour or so is played through as fast
 * as the server takes it, each report at the time it would have come; then the drill goes on in real time until it is stopped.
 */
export interface DrillOptions {
  url: string;
  unit: UnitId;
  /** The state at the head of the log, to find who plays what and which sequence numbers are used up. */
  state: UnitState;
  clock: DrillClock;
  seed: number;
  /** Called when the drill has caught up with real time. */
  onLive: () => void;
  log: (sentence: string) => void;
}

export interface Drill {
  /** Resolves when the drill runs in real time. */
  live: Promise<void>;
  stop(): void;
}

/** One simulated screen and what it is about to do. */
interface Seat {
  device: DrillDevice;
  intent: Intent | undefined;
  dueAt: number;
  /** The fact number the intent was made on. */
  madeOn: number;
}

export function startDrill(options: DrillOptions): Drill {
  const run = new DrillRun(options);
  return { live: run.start(), stop: () => run.stop() };
}

class DrillRun {
  private readonly options: DrillOptions;
  private readonly chance: Chance;
  private readonly seats: Seat[];
  private nextMishapAt: number;
  private stopped = false;
  private timer: ReturnType<typeof setInterval> | undefined;
  private stepping = false;

  constructor(options: DrillOptions) {
    this.options = options;
    this.chance = seededChance(options.seed);
    this.nextMishapAt = options.clock.now() + Math.ceil(between(this.chance, 35, 55) * 60_000);
    const now = () => options.clock.now();
    this.seats = playersOf(options.state).map((player) => ({
      device: new DrillDevice(options.url, options.unit, player, now, sequenceOf(options.state, player.device)),
      intent: undefined,
      dueAt: Infinity,
      madeOn: -1,
    }));
  }

  async start(): Promise<void> {
    for (const seat of this.seats) await seat.device.open();
    while (!this.options.clock.isLive && !this.stopped) await this.jump();
    for (const seat of this.seats) seat.device.beat();
    this.options.onLive();
    this.timer = setInterval(() => void this.stepLive(), 500);
  }

  stop(): void {
    this.stopped = true;
    clearInterval(this.timer);
    for (const seat of this.seats) seat.device.close();
  }

  /** Goes to the next thing anybody does, does it, and lets every screen see it. */
  private async jump(): Promise<void> {
    this.replan();
    const next = this.soonest();
    // Nothing to do now: look again half a minute later, when time itself may have changed something.
    if (!next || next.dueAt === Infinity) return this.options.clock.advanceTo(this.options.clock.now() + 30_000);
    this.options.clock.advanceTo(Math.min(next.dueAt, this.nextMishapAt));
    if (this.options.clock.now() >= this.nextMishapAt) await this.mishap();
    if (this.options.clock.now() >= next.dueAt) await this.act(next);
  }

  private async stepLive(): Promise<void> {
    if (this.stepping || this.stopped) return;
    this.stepping = true;
    try {
      this.replan();
      const now = this.options.clock.now();
      if (now >= this.nextMishapAt) await this.mishap();
      for (const seat of this.seats.filter((one) => one.dueAt <= now)) await this.act(seat);
    } catch {
      // The server is away: the sockets come back by themselves and the next step goes on from the log.
    } finally {
      this.stepping = false;
    }
  }

  private soonest(): Seat | undefined {
    return this.seats.reduce<Seat | undefined>(
      (first, one) => (!first || one.dueAt < first.dueAt ? one : first),
      undefined,
    );
  }

  /** Makes an intent for every idle seat, and drops those that the unit would no longer accept. */
  private replan(): void {
    const now = this.options.clock.now();
    for (const seat of this.seats) {
      const state = seat.device.state;
      // An idle seat is asked each time: what is to be done may depend on the clock alone.
      if (!state || (seat.intent && seat.madeOn === state.number)) continue;
      const stillGood =
        seat.intent && wouldBeAccepted(state, seat.device.player, seat.intent, Math.max(now, seat.dueAt));
      if (!stillGood) this.plan(seat, state, now);
      seat.madeOn = state.number;
    }
  }

  private plan(seat: Seat, state: UnitState, now: number): void {
    seat.intent = nextIntent(state, seat.device.player, now, this.chance);
    seat.dueAt = seat.intent ? now + Math.ceil(seat.intent.seconds * 1000) : Infinity;
  }

  private async act(seat: Seat): Promise<void> {
    const { intent, device } = seat;
    seat.intent = undefined;
    seat.dueAt = Infinity;
    seat.madeOn = -1;
    if (!intent) return;
    const answer = await device.send(intent);
    const last = answer.accepted ? (answer.numbers.at(-1) ?? 0) : 0;
    await Promise.all(this.seats.map((one) => one.device.seen(last)));
  }

  /** Now and then something small happens to somebody inside: an outer glove tears, and the observer says so. */
  private async mishap(): Promise<void> {
    this.nextMishapAt = this.options.clock.now() + Math.ceil(between(this.chance, 40, 80) * 60_000);
    const observer = this.seats.find((one) => one.device.player.role === 'observer' && isOnDuty(one.device));
    const state = observer?.device.state;
    const inside = state && pick(this.chance, workersIn(state, 'inside', 'working'));
    const kind = state?.rules.breaches.find((one) => one.class === 'near-miss')?.kind;
    if (!observer || !inside || !kind) return;
    const answer = await observer.device.send({
      kind: 'declare-breach',
      data: { worker: inside[0], breachKind: kind },
      seconds: 0,
    });
    if (answer.accepted) await Promise.all(this.seats.map((one) => one.device.seen(answer.numbers.at(-1) ?? 0)));
  }
}

function isOnDuty(device: DrillDevice): boolean {
  const observer = device.state && at(device.state.observers, device.player.person);
  return observer !== undefined && observer.value !== 'off-shift' && observer.value !== 'unreachable';
}

/** One coordinator, one safety officer, and every observer of the roster. */
export function playersOf(state: UnitState): Player[] {
  const people = entriesOf(state.roster);
  // Somebody who is not a worker too, where there is one: a coordinator in an entry coordinates nothing.
  const first = (role: Role) => {
    const able = people.filter(([, person]) => person.roles.some((one) => one === role));
    return (able.find(([, person]) => !person.roles.includes('worker')) ?? able[0])?.[0];
  };
  const seat = (role: Role, person: PersonId): Player => ({
    role,
    person,
    device: `drill-${role}-${person}` as DeviceId,
  });
  const observers = people
    .filter(([, person]) => person.roles.includes('observer'))
    .map(([id]) => seat('observer', id));
  const single = (['coordinator', 'safety-officer'] as const).flatMap((role) => {
    const person = first(role);
    return person ? [seat(role, person)] : [];
  });
  return [...single, ...observers];
}

const sequenceOf = (state: UnitState, device: DeviceId): number => at(state.devices, device)?.context.sequence ?? 0;
