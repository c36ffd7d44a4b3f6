import { acceptJoin, acceptReport, acceptTime, type Accepted } from '../../machines/unit/accept.ts';
import { deadlines } from '../../machines/unit/deadlines.ts';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import { factVersion, type Fact, type FactData, type NumberedFact } from '../../machines/wire/fact.ts';
import type { PersonId, ReportId, UnitId } from '../../machines/wire/ids.ts';
import { wireVersion, type Report, type ReportData, type ReportKind } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';
import { seededChance, type Chance } from '../../server/seeded-chance.ts';
import { playersOf } from '../../server/drill/drill.ts';
import { nextIntent, wouldBeAccepted, type Intent, type Luck, type Player } from '../../server/drill/habits.ts';
import { genesisHash, sealFact } from '../../server/log/hash-chain.ts';

/**
 * A shift played through in one process, without sockets or waiting: the drill's invented people on a clock that jumps. What
 * comes out is a log like any other, the same for the same seed. Used to record the demo logs and to test whole shifts.
 */
interface Seat {
  player: Player;
  sequence: number;
  intent: Intent | undefined;
  dueAt: number;
  madeOn: number;
}

export class Rehearsal {
  readonly facts: Fact[] = [];
  state: UnitState;
  now: number;
  private readonly chance: Chance;
  private readonly luck: Luck;
  private readonly seats: Seat[];
  /** Answers a player may not act on, e.g. a coordinator who is told to leave the lanes alone. */
  veto: (player: Player, intent: Intent) => boolean = () => false;

  constructor(unit: UnitId, opening: FactData<'unit-opened'>, startAt: number, seed: number, luck: Luck) {
    this.now = startAt;
    this.chance = seededChance(seed);
    this.luck = luck;
    const opened = {
      v: factVersion,
      number: 1,
      unit,
      kind: 'unit-opened',
      at: startAt,
      receivedAt: startAt,
      by: { watch: true },
      data: opening,
    } as NumberedFact;
    this.state = fold(undefined, opened);
    this.keep([opened]);
    this.seats = playersOf(this.state).map((player) => ({
      player,
      sequence: 0,
      intent: undefined,
      dueAt: Infinity,
      madeOn: -1,
    }));
    for (const { player } of this.seats)
      this.take(acceptJoin(this.state, player.device, player.role, player.person, this.now));
  }

  /** Plays until `done` says so or the clock reaches `until`. */
  play(until: number, done: (state: UnitState) => boolean = () => false): void {
    while (this.now < until && !done(this.state)) this.jump(until);
  }

  /** Has somebody report something at this moment, beside what the habits would do. */
  say<K extends ReportKind>(role: Role, kind: K, data: ReportData<K>, person?: PersonId): void {
    const seat = this.seats.find((one) => one.player.role === role && (!person || one.player.person === person));
    if (!seat) throw new Error(`nobody plays ${role} ${person ?? ''}`);
    this.report(seat, { kind, data, seconds: 0 } as Intent);
  }

  private jump(until: number): void {
    this.replan();
    const next = this.seats.reduce((first, one) => (one.dueAt < first.dueAt ? one : first));
    const deadline = deadlines(this.state)[0]?.at ?? Infinity;
    const at = Math.min(next.dueAt, Math.max(deadline, this.now + 1), this.now + 30_000, until);
    this.now = Math.max(this.now, Math.round(at));
    this.take(acceptTime(this.state, this.now));
    if (next.dueAt <= this.now && next.intent) this.report(next, next.intent);
  }

  private replan(): void {
    for (const seat of this.seats) {
      if (seat.intent && seat.madeOn === this.state.number) continue;
      const good = seat.intent && wouldBeAccepted(this.state, seat.player, seat.intent, Math.max(this.now, seat.dueAt));
      if (!good) {
        const intent = nextIntent(this.state, seat.player, this.now, this.chance, this.luck);
        seat.intent = intent && !this.veto(seat.player, intent) ? intent : undefined;
        seat.dueAt = seat.intent ? this.now + Math.ceil(seat.intent.seconds * 1000) : Infinity;
      }
      seat.madeOn = this.state.number;
    }
  }

  private report(seat: Seat, intent: Intent): void {
    seat.intent = undefined;
    seat.dueAt = Infinity;
    seat.sequence += 1;
    const { device, person, role } = seat.player;
    const report = {
      v: wireVersion,
      id: `${device}.${seat.sequence}` as ReportId,
      unit: this.state.unit,
      device,
      sequence: seat.sequence,
      person,
      observedAt: this.now,
      kind: intent.kind,
      data: intent.data,
    } as unknown as Report;
    const outcome = acceptReport(this.state, { report, role, receivedAt: this.now, salt: this.salt() });
    if (!('refusal' in outcome)) this.take(outcome);
  }

  private salt(): string {
    return Array.from({ length: 4 }, () =>
      Math.floor(this.chance() * 0xffffffff)
        .toString(16)
        .padStart(8, '0'),
    ).join('');
  }

  private take({ facts, state }: Accepted): void {
    this.state = state;
    this.keep(facts);
  }

  private keep(facts: readonly NumberedFact[]): void {
    for (const fact of facts) this.facts.push(sealFact(fact, this.facts.at(-1)?.hash ?? genesisHash));
  }
}
