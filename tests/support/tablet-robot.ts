import type { Page } from 'playwright-core';

/**
 * Hands for the observer's tablet: on every page it presses what an observer presses when all is well, as soon as the page
 * lets it. It knows the presses by what they report, and nothing about where they are.
 */
const vitals: Readonly<Record<string, string>> = {
  temperatureC: '36.8',
  pulsePerMin: '72',
  systolicMmHg: '122',
  diastolicMmHg: '78',
  respirationPerMin: '14',
  saturationPct: '98',
};

const presses = [
  'start-duty',
  'point-yes',
  'record-screening',
  'confirm-kit-item',
  'right',
  'pass-inspection',
  'enter-room',
  'seen-yes',
  'verify-corrective',
  'correct-deviation',
  'verify-step',
  'wet-now',
  'leave-room',
  'choose-lane',
  'assistant',
  'enter-lane',
  'record-post-check',
  'take-worker',
] as const;

const open = (test: string): string => `[data-test="${test}"]:not([disabled]):not([aria-disabled="true"])`;
const anyPress = presses.map(open).join(',');

export class TabletRobot {
  readonly page: Page;
  /** What was pressed, in order. */
  readonly pressed: string[] = [];

  constructor(page: Page) {
    this.page = page;
  }

  /** Goes on until the tablet shows one of these pages. */
  async until(...places: string[]): Promise<void> {
    const arrived = places.map((place) => `[data-test="tablet"][data-at="${place}"]`).join(',');
    for (let presses = 0; presses < 400; presses++) {
      if (await this.page.locator(arrived).count()) return;
      await this.pressNext(arrived);
    }
    throw new Error(`the tablet never came to ${places.join(' or ')}; pressed: ${this.pressed.slice(-12).join(', ')}`);
  }

  /** Presses the one thing that is next, once the page lets it. */
  async pressNext(arrived = '[data-test="nowhere"]'): Promise<void> {
    await this.page.locator(`${anyPress},section[data-test^="vital-"],${arrived}`).first().waitFor({ timeout: 20_000 });
    const pad = this.page.locator('section[data-test^="vital-"]');
    if (await pad.count()) return this.measure((await pad.first().getAttribute('data-test')) ?? '');
    for (const test of presses) {
      const press = this.page.locator(open(test)).first();
      if (!(await press.count())) continue;
      this.pressed.push(test);
      // What has just gone from the page was pressed already: look again.
      await press.click({ timeout: 3_000 }).catch(() => undefined);
      return;
    }
  }

  private async measure(test: string): Promise<void> {
    const value = vitals[test.replace('vital-', '')] ?? '';
    await this.page.keyboard.type(value);
    this.pressed.push(test);
    await this.page.locator(open('take-vital')).click();
  }
}
