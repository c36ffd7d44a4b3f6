import { pino } from 'pino';
import type { Fact } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId, ReportId, UnitId } from '../../machines/wire/ids.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import { reportSchemas, wireVersion, type Report, type ReportKind } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { sealFact } from '../../server/log/hash-chain.ts';
import type { Log } from '../../server/log/log.ts';
import { openAuthority, type Authority, type AuthorityParts } from '../../server/unit/authority.ts';
import { FakeClock } from './fake-clock.ts';
import { openedAt, opening, type World } from './unit-fixture.ts';

export const small = 'small' as UnitId;
export const smallUnit = { id: small, opening: opening() };
export const quiet = pino({ level: 'silent' });
export const saltForTests = () => 'a-salt-for-tests-only-0';

export function partsWith(log: Log, more: Partial<AuthorityParts> = {}): AuthorityParts {
  return { log, clock: new FakeClock(openedAt), logger: quiet, salt: saltForTests, ...more };
}

export const openSmall = (log: Log, more: Partial<AuthorityParts> = {}): Promise<Authority> =>
  openAuthority(smallUnit, partsWith(log, more));

/** Puts the log of a played story into a log, so that a test of the server can start in the middle of a shift. */
export async function writeWorld(log: Log, world: World): Promise<void> {
  const facts: Fact[] = [];
  for (const numbered of world.log) facts.push(sealFact(numbered, (facts.at(-1) ?? emptyHead).hash));
  await log.append(small, 0, facts);
}

/** A tablet that numbers its reports, as far as a test needs one. */
export class Tablet {
  readonly device: DeviceId;
  readonly person: PersonId;
  readonly role: Role;
  private readonly now: () => number;
  private sequence: number;

  constructor(device: string, person: string, role: Role, now: () => number = () => openedAt, sequence = 0) {
    this.device = device as DeviceId;
    this.person = person as PersonId;
    this.role = role;
    this.now = now;
    this.sequence = sequence;
  }

  report(kind: ReportKind, data: object = {}, more: Partial<Report> = {}): Report {
    this.sequence += 1;
    return reportSchemas[kind].parse({
      v: wireVersion,
      id: `${this.device}.${this.sequence}` as ReportId,
      unit: small,
      device: this.device,
      sequence: this.sequence,
      person: this.person,
      observedAt: this.now(),
      kind,
      data,
      ...more,
    }) as unknown as Report;
  }

  async joins(authority: Authority): Promise<this> {
    const answer = await authority.join(this.device, this.role, this.person);
    if (!answer.accepted) throw new Error(answer.sentence);
    return this;
  }

  sends(authority: Authority, report: Report): Promise<ReportAnswer> {
    return new Promise((resolve) => authority.report(report, this.role, resolve));
  }
}

export const tabletOf = (person: string, now?: () => number): Tablet =>
  new Tablet(`tablet-${person}`, person, 'observer', now);
export const boardOf = (person = 'c1', now?: () => number): Tablet =>
  new Tablet(`board-${person}`, person, 'coordinator', now);

export async function wholeLog(log: Log): Promise<Fact[]> {
  return log.read(small, 0, 1_000_000);
}
