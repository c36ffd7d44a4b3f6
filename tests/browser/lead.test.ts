import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { UnitState } from '../../machines/unit/state.ts';
import type { ProcedureId } from '../../machines/wire/ids.ts';
import { accessibilityProblems } from '../support/axe.ts';
import { launchChromium } from '../support/chromium.ts';
import { runServer, type RunningServer } from '../support/running-server.ts';

/** The lead changes a procedure, in real Chromium against the program as a user starts it: breaks it, sees how, adopts a good version. */
let server: RunningServer;
let browser: Browser;
let page: Page;
const problems: string[] = [];

const stateNow = async () =>
  ((await (await fetch(`${server.url}/api/units/drill/state`)).json()) as { state: UnitState }).state;
const id = 'respirator-gown' as ProcedureId;
let shipped = 0;
const test = (name: string) => page.locator(`[data-test="${name}"]`);
const open = (name: string) => test(`page-${name}`).click();
const said = (what: string) => page.locator(`[data-test="check"][data-check="${what}"]`).waitFor();
const verdict = (what: string) => page.locator(`[data-test="proof"][data-verdict="${what}"]`).waitFor();

beforeAll(async () => {
  server = await runServer(['drill', '--empty']);
  browser = await launchChromium();
  page = await (await browser.newContext({ viewport: { width: 1280, height: 900 } })).newPage();
  page.setDefaultTimeout(30_000);
  page.on('pageerror', (error) => problems.push(error.message));
  await page.goto(`${server.url}/lead?as=p-19`);
  await page.locator(`[data-procedure="${id}"]`).click();
  await test('read').waitFor();
  shipped = (await stateNow()).adopted[id] ?? 0;
}, 120_000);

afterAll(async () => {
  await browser.close();
  await server.stop();
});

describe.sequential('the lead’s screen', { timeout: 120_000 }, () => {
  it('shows what the unit goes by, and every page of it passes the accessibility rules', async () => {
    expect(await test('procedure').count()).toBe(2);
    expect(await page.locator('[data-test="read"] [data-step]').count()).toBeGreaterThan(30);
    for (const name of ['read', 'compare', 'training', 'card']) {
      await open(name);
      await test(name).waitFor();
      expect(await accessibilityProblems(page)).toEqual([]);
    }
  });

  it('everything to press is at least 24 px (WCAG 2.2), and what adopts is larger', async () => {
    await open('edit');
    await verdict('proved');
    const sizes = await page
      .locator('[data-test="lead"] button:visible, [data-test="lead"] select:visible')
      .evaluateAll((all) =>
        all.map((one) => Math.min(one.getBoundingClientRect().width, one.getBoundingClientRect().height)),
      );
    expect(sizes.length).toBeGreaterThan(5);
    expect(Math.min(...sizes)).toBeGreaterThanOrEqual(44);
    const adopt = await test('adopt').boundingBox();
    expect(adopt?.height).toBeGreaterThanOrEqual(60);
  });

  it('a text that is not whole: the problem leads to its line', async () => {
    const text = await test('yaml').inputValue();
    await test('yaml').fill(text.replace('critical: true', 'critical: maybe'));
    await said('problems');
    const line = Number(await test('problem').first().getAttribute('data-line'));
    expect(text.split('\n')[line - 1]).toContain('critical: true');
    await test('problem').first().getByRole('button').click();
    expect(await test('place').textContent()).toContain(`Line ${line}`);
    await test('yaml').fill(text);
    await verdict('proved');
  });

  it('a text that contaminates: the shortest order that does, and a mend that makes it hold again', async () => {
    const text = await test('yaml').inputValue();
    // The gown goes on without waiting for the rub after the boot covers.
    const broken = text.replace(
      /(- id: gown-on\n(?: {4}.*\n)*?)( {4}after:\n {6}- rub-gloves-after-boots)/,
      '$1    after:\n      - inner-gloves-on',
    );
    expect(broken).not.toBe(text);
    await test('yaml').fill(broken);
    await verdict('not-proved');
    expect(await test('counter-example').textContent()).toContain('gown-on');
    expect(await test('adopt').count()).toBe(0);
    expect(await test('adopt-without').isDisabled()).toBe(true);
    expect(await accessibilityProblems(page)).toEqual([]);
    await test('take-mend').click();
    await verdict('proved');
  });

  it('adopts it: the next entry gets it, and the list says who adopted it', async () => {
    await test('adopt').click();
    await expect.poll(async () => (await stateNow()).adopted[id]).toBe(shipped + 1);
    await expect.poll(() => test('outcome').textContent()).toContain(`Version ${shipped + 1} is adopted`);
    await expect
      .poll(() => page.locator(`[data-procedure="${id}"]`).textContent())
      .toMatch(new RegExp(`Version ${shipped + 1}.*proved`));
    await open('compare');
    await page.locator('[data-change]').first().waitFor();
  });

  it('the page behind the code on an old card says that the card is out of date', async () => {
    await page.goto(`${server.url}/procedure/${id}/${shipped}`);
    await expect.poll(() => test('card-verdict').textContent()).toContain('out of date');
    expect(await accessibilityProblems(page)).toEqual([]);
    await page.goto(`${server.url}/procedure/${id}/${shipped + 1}`);
    await expect.poll(() => test('card-verdict').textContent()).toContain('is current');
    expect(problems).toEqual([]);
  });
});
