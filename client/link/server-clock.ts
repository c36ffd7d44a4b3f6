/**
 * Server time as this device reckons it: the device's own clock plus an offset. The offset comes from the beat with the
 * shortest round trip of the last eight, and from the pulse when the two have come far apart (after sleep, or when somebody
 * sets the clock). Elapsed times are always differences of two server times, so no screen can drift.
 */
export class ServerClock {
  private readonly deviceNow: () => number;
  private samples: { offset: number; roundTrip: number }[] = [];
  private offset = 0;
  /** Half the round trip of the best sample: how far off the reckoning may be, in milliseconds. */
  errorMs = Infinity;

  constructor(deviceNow: () => number) {
    this.deviceNow = deviceNow;
  }

  now(): number {
    return this.deviceNow() + this.offset;
  }

  /** A beat came back: sent at `sentAt`, arrived now (device time), stamped by the server in between. */
  noteBeat(sentAt: number, serverTime: number): void {
    const arrived = this.deviceNow();
    const roundTrip = arrived - sentAt;
    if (roundTrip < 0 || roundTrip > 10_000) return;
    this.samples = [...this.samples.slice(-7), { offset: serverTime - (sentAt + arrived) / 2, roundTrip }];
    this.takeBest();
  }

  /** A pulse came: it is at most a network delay old. Further off than that, the old samples tell of another clock. */
  notePulse(serverTime: number): void {
    const apart = serverTime - this.now();
    if (apart > -1_500 && apart < 250) return;
    this.samples = [{ offset: serverTime - this.deviceNow(), roundTrip: 1_000 }];
    this.takeBest();
  }

  private takeBest(): void {
    const best = this.samples.reduce((least, one) => (one.roundTrip < least.roundTrip ? one : least));
    this.offset = best.offset;
    this.errorMs = best.roundTrip / 2;
  }
}
