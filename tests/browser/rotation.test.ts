import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { UnitState } from '../../machines/unit/state.ts';
import { accessibilityProblems } from '../support/axe.ts';
import { launchChromium } from '../support/chromium.ts';
import { openLive } from '../support/live-page.ts';
import { quickUnit } from '../support/quick-unit.ts';
import { runServer, type RunningServer } from '../support/running-server.ts';

/** The rotation in real Chromium: asked for, looked at, one trip locked and one moved, planned anew, adopted, and on the board. */
let server: RunningServer;
let browser: Browser;
let page: Page;
const problems: string[] = [];

const open = (path: string) =>
  openLive(browser, { url: server.url, path, width: 1500, height: 1000, timeoutMs: 15_000, problems });

const stateNow = async () =>
  ((await (await fetch(`${server.url}/api/units/drill/state`)).json()) as { state: UnitState }).state;
const test = (name: string) => page.locator(`[data-test="${name}"]`);
const planned = () => page.locator('[data-test="plan-progress"][data-status="finished"]').waitFor();

beforeAll(async () => {
  server = await runServer(['drill', '--empty', '--unit', quickUnit()]);
  browser = await launchChromium();
  page = await open('/rotation?as=p-17');
}, 120_000);

afterAll(async () => {
  await browser?.close();
  await server?.stop();
});

describe.sequential('the rotation, from asked to adopted', { timeout: 60_000 }, () => {
  it('a plan is asked for, comes with how good it is, and is axe clean', async () => {
    await page.locator('input[name="hours"]').fill('4');
    await page.locator('input[name="seconds"]').fill('3');
    await test('plan-rotation').click();
    await planned();
    expect(await test('trip').count()).toBeGreaterThan(2);
    expect((await test('plan-quality').innerText()).length).toBeGreaterThan(5);
    expect(await accessibilityProblems(page)).toEqual([]);
  });

  it('a trip is moved by arrow key, said and taken back by Escape; another is locked and stays when planned anew', async () => {
    const last = test('trip').last();
    await last.click();
    await page.keyboard.press('ArrowRight');
    await expect.poll(() => test('trip-clashes').innerText()).toContain('Moved 5 min later');
    await page.keyboard.press('Escape');
    await expect.poll(() => test('trip-clashes').innerText()).not.toContain('Moved');
    await test('lock-trip').click();
    const label = (await last.getAttribute('aria-label'))?.split(',')[0];
    await test('plan-rotation').click();
    await page.locator('[data-test="plan-progress"][data-status="planning"]').waitFor();
    await planned();
    const staying = page.locator('[data-test="trip"].locked');
    expect(await staying.count()).toBe(1);
    expect((await staying.getAttribute('aria-label'))?.split(',')[0]).toBe(label);
  });

  it('it is adopted with one press, and the board says who is next', async () => {
    await test('adopt-rotation').click();
    await expect.poll(async () => (await stateNow()).rotation?.trips.length).toBeGreaterThan(2);
    await expect.poll(() => test('rotation-title').innerText()).toContain('adopted');
    await test('to-board').click();
    await expect
      .poll(() => page.locator('[data-test="next-trip"]').getAttribute('title'))
      .toMatch(/^next: .+ \d\d:\d\d$/);
    expect(problems).toEqual([]);
  });
});
