import { describe, expect, it } from 'vitest';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { demoProcedure, demoUnit } from '../support/demo-unit.ts';

/**
 * Wear times of DGUV Regel 112-190 (current edition; the year 2021 is from memory): minutes of wear, of recovery and per
 * shift. No limit is set for a powered hood or helmet. An older edition gives 75/30 without and 120/30 with a valve.
 */
const wearTimes = [
  { device: 'filtering mask without exhalation valve', wear: 75, recovery: 30, perShift: 360 },
  { device: 'filtering mask with exhalation valve', wear: 150, recovery: 30, perShift: 420 },
  { device: 'powered full mask', wear: 150, recovery: 30, perShift: 420 },
  { device: 'powered half mask', wear: 180, recovery: 30, perShift: 450 },
  { device: 'powered hood or helmet', wear: null, recovery: null, perShift: null },
] as const;

const withoutValve = wearTimes[0];
const poweredHood = wearTimes[4];
const { settings, procedures } = demoUnit();
const gown = demoProcedure('respirator-gown');
const coverall = demoProcedure('powered-coverall');

describe('wear times against DGUV Regel 112-190', () => {
  it('the respirator without valve is worn for exactly the 75 min that its limit cites', () => {
    expect(gown.ensemble.items.find((one) => one.id === 'respirator')?.name).toContain('without exhalation valve');
    expect(gown.limit.minutes).toBe(withoutValve.wear);
    expect(gown.limit.source).toContain('DGUV Regel 112-190');
    expect(gown.limit.source).toContain(`${withoutValve.wear} min`);
  });

  it('the powered hood has no wear time there, so its limit says that the figure is the unit’s own', () => {
    expect(poweredHood.wear).toBeNull();
    expect(coverall.limit.source).toContain("Unit's own rule; no source for 120 min");
    expect(coverall.limit.source).toContain('DGUV Regel 112-190 sets no wear time for a powered hood');
    expect(coverall.limit.minutes).toBe(120);
  });

  it('rest is at least the recovery of every row, and longer after an overrun', () => {
    for (const { recovery } of wearTimes) expect(settings.rest.minutes).toBeGreaterThanOrEqual(recovery ?? 0);
    expect(settings.rest.afterOverrunMinutes).toBeGreaterThan(settings.rest.minutes);
    expect(settings.rest.source).toContain('DGUV Regel 112-190');
  });

  it('a day in equipment stays inside the smallest shift total of any row', () => {
    const smallest = Math.min(...wearTimes.flatMap((row) => row.perShift ?? []));
    expect(smallest).toBe(withoutValve.perShift);
    expect(settings.perDay.minutesInPpe).toBeLessThanOrEqual(smallest);
  });
});

describe('times that must leave room for each other', () => {
  const workMinutes = ({ limit, expected }: Procedure) =>
    limit.minutes - expected.doffingMinutes - settings.callOut.marginMinutes;

  it('call-out leaves minutes of work, and the warning comes after the start', () => {
    for (const procedure of procedures)
      expect(workMinutes(procedure), procedure.id).toBeGreaterThan(settings.callOut.warnBeforeMinutes);
  });

  // Donning 8 to 15 min, doffing 10 to 25 min: from memory, low confidence; no published mean was found.
  it('donning and doffing are expected within the range that is recalled', () => {
    for (const { expected, id } of procedures) {
      expect(expected.donningMinutes, id).toBeGreaterThanOrEqual(8);
      expect(expected.donningMinutes, id).toBeLessThanOrEqual(15);
      expect(expected.doffingMinutes, id).toBeGreaterThanOrEqual(10);
      expect(expected.doffingMinutes, id).toBeLessThanOrEqual(25);
      expect(expected.source, id).toContain('From memory');
    }
  });

  it('the contact times of doffing fit into the expected doffing time', () => {
    for (const { steps, expected, id } of procedures) {
      const seconds = steps
        .filter((one) => one.phase === 'doffing')
        .reduce((sum, one) => sum + (one.hygiene?.contactSeconds ?? 0), 0);
      expect(seconds / 60, id).toBeLessThan(expected.doffingMinutes);
    }
  });

  // Zamora and others, CMAJ 2006: the powered kind takes longer to put on and to take off.
  it('the powered ensemble is expected to take longer', () => {
    expect(coverall.expected.donningMinutes).toBeGreaterThan(gown.expected.donningMinutes);
    expect(coverall.expected.doffingMinutes).toBeGreaterThan(gown.expected.doffingMinutes);
  });
});

describe('values of unit.yaml against their published source', () => {
  it('a fit test is at most a year old: 29 CFR 1910.134(f)(2)', () => {
    expect(settings.qualification.fitTestDays).toBeLessThanOrEqual(365);
  });

  // A hazardous-materials responder screening text: blood pressure outside 90/60 to 150/90, pulse over 100.
  it('nobody goes in outside the bounds of the responder text', () => {
    const { systolicMmHg, diastolicMmHg, pulsePerMin } = settings.preCheck.bounds;
    expect([systolicMmHg, diastolicMmHg, pulsePerMin?.high]).toEqual([
      { low: 90, high: 150 },
      { low: 60, high: 90 },
      100,
    ]);
  });

  // "Preparing Hospitals for Bioterrorism": below 97.0 F or above 99.5 F, respiration over 24.
  it('nobody goes in outside the temperature and respiration of the hospital decontamination text', () => {
    const celsius = (fahrenheit: number) => Math.round(((fahrenheit - 32) * 50) / 9) / 10;
    const { temperatureC, respirationPerMin } = settings.preCheck.bounds;
    expect([temperatureC, respirationPerMin?.high]).toEqual([{ low: celsius(97.0), high: celsius(99.5) }, 24]);
  });

  // OSHA, monitoring of workers in suits, and the responder text: pulse over 110 at the start of rest. ACGIH heat strain:
  // core above 38.0 C for people who are not specially selected.
  it('post-check holds who comes out too hot or with too fast a pulse', () => {
    expect(settings.postCheck.bounds.pulsePerMin?.high).toBe(110);
    expect(settings.postCheck.bounds.temperatureC?.high).toBe(38);
  });

  // CDC, recommendations for organisations sending personnel: percutaneous, mucous-membrane or skin contact with blood or body
  // fluid, or being without the equipment, is a high-risk exposure.
  it('breaches that CDC counts as high-risk exposures are classed so, and send the worker out', () => {
    const highRisk = [
      'splash-on-skin',
      'splash-to-eye-or-mouth',
      'sharp-injury',
      'respirator-failed',
      'both-gloves-torn',
    ];
    for (const kind of highRisk) {
      const rule = settings.breaches.find((one) => one.kind === kind);
      expect([kind, rule?.class, rule?.leaveRoom]).toEqual([kind, 'high-risk', true]);
    }
  });

  it('every breach names a source or says that there is none, and asks for the physician’s sign-off', () => {
    for (const { kind, source } of settings.breaches) {
      expect(source, kind).toMatch(/common practice, no source|CDC/i);
      expect(source, kind).toContain("unit physician's sign-off");
    }
  });
});
