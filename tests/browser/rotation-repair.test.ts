import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { accessibilityProblems } from '../support/axe.ts';
import { launchChromium } from '../support/chromium.ts';
import { demoUnit } from '../support/demo-unit.ts';
import { openLive } from '../support/live-page.ts';
import { quickUnit } from '../support/quick-unit.ts';
import { runServer, type RunningServer } from '../support/running-server.ts';

/**
 * A rotation that reality leaves, in real Chromium, on two pages at once: somebody in it stands down on the board, a repair is offered,
 * looked at and taken; then a lane closes; a what-if changes nothing; and the rotation is withdrawn and had back.
 */
let server: RunningServer;
let browser: Browser;
let page: Page;
let board: Page;
let gone: PersonId;
const problems: string[] = [];
const { names } = demoUnit();

const open = (path: string, width: number, height: number) =>
  openLive(browser, { url: server.url, path, width, height, timeoutMs: 8_000, problems });

const stateNow = async () =>
  ((await (await fetch(`${server.url}/api/units/drill/state`)).json()) as { state: UnitState }).state;
const tripsNow = async () => (await stateNow()).rotation?.trips ?? [];
const on = (where: Page, name: string) => where.locator(`[data-test="${name}"]`);
const tile = (person: PersonId) => board.locator(`[data-test="person"][data-id="${person}"]`);

beforeAll(async () => {
  server = await runServer(['drill', '--empty', '--unit', quickUnit()]);
  browser = await launchChromium();
  page = await open('/rotation?as=p-17', 1180, 820);
  board = await open('/board?as=p-12', 1180, 1300);
}, 120_000);

afterAll(async () => {
  await browser?.close();
  await server?.stop();
});

describe.sequential('a rotation that reality leaves', { timeout: 60_000 }, () => {
  it('is adopted, and everybody in it has their planned time on the board', async () => {
    await page.locator('input[name="hours"]').fill('4');
    await page.locator('input[name="seconds"]').fill('3');
    await on(page, 'plan-rotation').click();
    await page.locator('[data-test="plan-progress"][data-status="planning"]').waitFor();
    // Things go on happening while a plan is made: the page must not forget it over them.
    const { number } = await stateNow();
    const readings = [{ room: 'room-1', airTemperatureC: 24, relativeHumidityPct: 50 }];
    const posted = await fetch(`${server.url}/api/units/drill/climate`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ sensor: 'wall-1', readings }),
    });
    expect(posted.ok).toBe(true);
    expect((await stateNow()).number).toBeGreaterThan(number);
    await page.locator('[data-test="plan-progress"][data-status="finished"]').waitFor();
    await on(page, 'adopt-rotation').click();
    await expect.poll(async () => (await tripsNow()).length).toBeGreaterThan(2);
    const last = [...(await tripsNow())].sort((a, b) => b.donningAt - a.donningAt)[0];
    gone = last!.worker;
    await expect.poll(() => tile(gone).locator('[data-test="against-plan"]').innerText()).toMatch(/planned \d\d:\d\d/);
    expect(await on(page, 'repair-offer').count()).toBe(0);
  });

  it('somebody in it stands down: their tile says so at once, and the sheet offers no call but says why', async () => {
    await tile(gone).locator('button').click();
    await on(board, 'ask-stand-down').click();
    await on(board, 'person-sheet').locator('input').fill('Asked to stand down');
    await on(board, 'stand-down').click();
    await expect.poll(() => tile(gone).locator('[data-test="against-plan"]').innerText()).toContain('can’t go');
    await tile(gone).locator('button').click();
    expect(await on(board, 'ask-call').isDisabled()).toBe(true);
    expect(await on(board, 'person-sheet').innerText()).toContain('is stood down: Asked to stand down');
    await board.keyboard.press('Escape');
  });

  it('a repair is offered with what has happened and what it changes, and is axe clean', async () => {
    await on(page, 'take-repair').waitFor();
    const offer = await on(page, 'repair-offer').innerText();
    expect(offer).toContain(`${names[gone]} can’t be called today`);
    expect(offer).toContain(names[gone]);
    expect(await page.locator('[data-test="repair-offer"] .changes li').count()).toBeGreaterThan(0);
    const sizes = await page
      .locator('[data-test="repair-offer"] button')
      .evaluateAll((buttons) =>
        buttons.map((one) => Math.min(one.getBoundingClientRect().width, one.getBoundingClientRect().height)),
      );
    expect(Math.min(...sizes)).toBeGreaterThanOrEqual(44);
    expect(await accessibilityProblems(page)).toEqual([]);
    expect((await tripsNow()).some(({ worker }) => worker === gone)).toBe(true);
  });

  it('it is taken with one press: they are out of the timeline and the plan, and the offer goes', async () => {
    await on(page, 'take-repair').click();
    await expect.poll(async () => (await tripsNow()).filter(({ worker }) => worker === gone)).toEqual([]);
    expect((await tripsNow()).length).toBeGreaterThan(2);
    await on(page, 'repair-offer').waitFor({ state: 'detached' });
    await expect.poll(() => page.locator(`[data-test="trip"][aria-label^="${names[gone]}:"]`).count()).toBe(0);
    await expect.poll(() => tile(gone).locator('[data-test="against-plan"]').count()).toBe(0);
  });

  it('a lane that closes is a reason for another, which can be left', async () => {
    const [{ lane } = {}] = (await tripsNow()).filter((trip) => trip.lane);
    await board.locator(`[data-test="lane"][data-id="lane ${lane}"] button`).first().click();
    await on(board, 'ask-close').click();
    await board.getByRole('button', { name: 'Spill' }).click();
    await on(board, 'close-lane').click();
    await on(page, 'take-repair').waitFor();
    expect(await on(page, 'repair-offer').innerText()).toContain('is closed');
    await on(page, 'leave-repair').click();
    await on(page, 'repair-offer').waitFor({ state: 'detached' });
    expect((await tripsNow()).some((trip) => trip.lane === lane)).toBe(true);
  });

  it('a what-if of the forecast is shown before and after, and changes nothing', async () => {
    const { number } = await stateNow();
    await page.locator('[data-test="ahead-what-if"] summary').click();
    await on(page, 'add-lane').click();
    await on(page, 'play-what-if').click();
    await on(page, 'what-if-answer').waitFor();
    expect(await on(page, 'what-if-row').count()).toBeGreaterThan(0);
    expect(await on(page, 'what-if-together').innerText()).toMatch(/\d+ min →.*\d+ min/s);
    expect(await accessibilityProblems(page)).toEqual([]);
    expect((await stateNow()).number).toBe(number);
  });

  it('it is withdrawn only after it was confirmed with a reason, and can be had back', async () => {
    await on(page, 'ask-drop-rotation').click();
    expect(await on(page, 'drop-rotation').isDisabled()).toBe(true);
    expect((await tripsNow()).length).toBeGreaterThan(0);
    await page.getByRole('button', { name: 'Adopted by mistake' }).click();
    await on(page, 'drop-rotation').click();
    await expect.poll(async () => (await stateNow()).rotation).toBeUndefined();
    await on(page, 'timeline').waitFor({ state: 'detached' });
    await on(board, 'against-plan').first().waitFor({ state: 'detached' });
    await on(page, 'restore-rotation').click();
    await expect.poll(async () => (await tripsNow()).length).toBeGreaterThan(0);
    await on(page, 'timeline').waitFor();
    expect(problems).toEqual([]);
  });
});
