import { describe, expect, it } from 'vitest';
import { reportKinds } from '../../machines/wire/report.ts';
import { maySend, rights, roles, type Role } from '../../machines/wire/rights.ts';
import {
  boardAt,
  leadAt,
  safetyAt,
  serve,
  tabletAt,
  wallAt,
  type Screen,
  type TestServer,
} from '../support/server-fixture.ts';
import { sampleData } from '../support/sample-reports.ts';
import { second } from '../support/unit-fixture.ts';

/** The one table of who may send what, held against a server: every role, every kind of report, over a real socket. */
const screenOf: Record<Role, (server: TestServer) => Promise<Screen>> = {
  coordinator: boardAt,
  observer: (server) => tabletAt(server, 'o1'),
  'safety-officer': safetyAt,
  lead: leadAt,
  wall: wallAt,
};
const personOf: Record<Role, string> = {
  coordinator: 'c1',
  observer: 'o1',
  'safety-officer': 's1',
  lead: 'lead',
  wall: 'o1',
};

describe.each(roles)('a %s screen', (role) => {
  it('is refused every report that is not its to send, and none for that reason that is', async () => {
    const server = await serve();
    const screen = await screenOf[role](server);
    const refused: string[] = [];
    for (const kind of reportKinds) {
      const answer = await screen.says(kind, sampleData[kind], { person: personOf[role] });
      if (!answer.accepted && answer.code === 'rights/not-yours') refused.push(kind);
      // So that no report is too many.
      await server.clock.advance(second);
    }
    expect(refused).toEqual(reportKinds.filter((kind) => !maySend(role, kind)));
    expect(await server.metric('anteroom_refusals_total{code="rights/not-yours"}')).toBe(refused.length);
  });
});

describe('the table itself', () => {
  it('gives a wall nothing and leaves no report without a sender', () => {
    for (const kind of reportKinds) {
      expect(rights[kind]).not.toContain('wall');
      expect(rights[kind].length).toBeGreaterThan(0);
    }
  });

  it('lets only the safety officer let somebody past a rule', () => {
    const past = ['release-hold', 'override-step', 'clear-breach', 'lift-stand-down', 'clear-alert'] as const;
    for (const kind of past) expect(rights[kind]).toEqual(['safety-officer']);
  });

  it('lets only the lead say what the unit goes by, and the lead nothing else', () => {
    expect(reportKinds.filter((kind) => maySend('lead', kind))).toEqual(['adopt-procedure']);
    expect(rights['adopt-procedure']).toEqual(['lead']);
  });

  it('lets everybody with hands on a screen call for help', () => {
    for (const kind of ['declare-emergency', 'declare-breach'] as const)
      expect([...rights[kind]].sort()).toEqual(['coordinator', 'observer', 'safety-officer']);
  });
});
