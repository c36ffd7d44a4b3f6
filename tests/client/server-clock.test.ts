import { describe, expect, it } from 'vitest';
import { ServerClock } from '../../client/link/server-clock.ts';

/** A device whose clock is `offBy` milliseconds behind the server's, and may be set. */
function device(offBy: number) {
  const real = { server: 1_800_000_000_000, offBy };
  const clock = new ServerClock(() => real.server - real.offBy);
  return {
    clock,
    server: () => real.server,
    pass: (ms: number) => void (real.server += ms),
    setClock: (next: number) => void (real.offBy = next),
    /** One beat: `there` milliseconds to the server, `back` milliseconds back. */
    beat: (there: number, back: number) => {
      const sentAt = real.server - real.offBy;
      real.server += there;
      const stamped = real.server;
      real.server += back;
      clock.noteBeat(sentAt, stamped);
    },
    offMs: () => Math.abs(clock.now() - real.server),
  };
}

describe('the server clock of a screen', () => {
  it('is right to half the difference of the ways there and back', () => {
    const tablet = device(90_000);
    tablet.beat(4, 6);
    expect(tablet.offMs()).toBe(1);
    expect(tablet.clock.errorMs).toBe(5);
  });

  it('keeps the best of the last eight beats, whatever a bad network does in between', () => {
    const tablet = device(-3_600_000);
    tablet.beat(3, 3);
    for (let stall = 0; stall < 6; stall++) tablet.beat(5, 900);
    expect(tablet.offMs()).toBe(0);
  });

  it('forgets a good beat after eight more, so that drift does not build up for ever', () => {
    const tablet = device(0);
    tablet.beat(2, 2);
    tablet.setClock(140);
    for (let later = 0; later < 8; later++) tablet.beat(20, 20);
    expect(tablet.offMs()).toBe(0);
  });

  it('is right at once when the device slept or its clock was set: the next pulse tells', () => {
    const tablet = device(0);
    tablet.beat(2, 2);
    tablet.setClock(7_200_000);
    tablet.pass(1_000);
    expect(tablet.offMs()).toBe(7_200_000);
    tablet.clock.notePulse(tablet.server());
    expect(tablet.offMs()).toBe(0);
  });

  it('is not disturbed by a pulse that was a little slow', () => {
    const tablet = device(500);
    tablet.beat(2, 2);
    const sent = tablet.server();
    tablet.pass(400);
    tablet.clock.notePulse(sent);
    expect(tablet.offMs()).toBe(0);
  });

  it('ignores a beat that took longer than anybody waits, or came back before it was sent', () => {
    const tablet = device(0);
    tablet.beat(2, 2);
    tablet.beat(11_000, 5);
    tablet.setClock(-50_000);
    tablet.clock.noteBeat(tablet.server() + 60_000, tablet.server());
    tablet.setClock(0);
    expect(tablet.offMs()).toBe(0);
  });
});
