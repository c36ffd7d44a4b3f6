import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { detailOf, placeOf, type Place } from '../../machines/unit/questions.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { accessibilityProblems } from '../support/axe.ts';
import { launchChromium } from '../support/chromium.ts';
import { demoUnit } from '../support/demo-unit.ts';
import { quickUnit } from '../support/quick-unit.ts';
import { runServer, type RunningServer } from '../support/running-server.ts';
import { TabletRobot } from '../support/tablet-robot.ts';

/**
 * One worker through a whole entry, in real Chromium, against the program as a user starts it, with a board and a safety page
 * open beside the tablet: every page of the tablet, a breach, a power cut in the middle, and out again to rest.
 */
const worker = 'p-01' as PersonId;
const name = demoUnit().names[worker] ?? '';

let server: RunningServer;
let browser: Browser;
let board: Page;
let tablet: Page;
let safety: Page;
let robot: TabletRobot;
const problems: string[] = [];

async function open(path: string, width: number, height: number): Promise<Page> {
  const page = await (await browser.newContext({ viewport: { width, height } })).newPage();
  page.setDefaultTimeout(15_000);
  page.on('pageerror', (error) => problems.push(`${path}: ${error.message}`));
  await page.goto(`${server.url}${path}`);
  await page.locator('[data-live="true"]').waitFor();
  return page;
}

async function stateNow(): Promise<UnitState> {
  return ((await (await fetch(`${server.url}/api/units/drill/state`)).json()) as { state: UnitState }).state;
}

/** The tablet shows what its person did at once; the server has it a moment later. */
async function expectWorkerAt(place: Place, detail?: string): Promise<void> {
  const where = async () => {
    const { machine } = (await stateNow()).workers[worker] ?? {};
    return machine && { place: placeOf(machine), detail: detail && detailOf(machine) };
  };
  await expect.poll(where).toEqual({ place, detail });
}

const press = (page: Page, test: string) => page.locator(`[data-test="${test}"]:not([disabled])`).first().click();

beforeAll(async () => {
  server = await runServer(['drill', '--empty', '--unit', quickUnit()]);
  browser = await launchChromium();
  board = await open('/board?as=p-17', 1600, 900);
  tablet = await open('/tablet?as=p-13', 1180, 820);
  safety = await open('/safety?as=p-18', 390, 844);
  robot = new TabletRobot(tablet);
}, 120_000);

afterAll(async () => {
  await browser.close();
  await server.stop();
});

describe.sequential('one entry, from called to cleared, on three screens', { timeout: 240_000 }, () => {
  it('the board calls a ready worker', async () => {
    await board.getByRole('button', { name: new RegExp(name) }).click();
    await press(board, 'ask-call');
    await board.getByText('respirator', { exact: false }).first().click();
    await press(board, 'call-worker');
    await expect.poll(async () => (await stateNow()).workers[worker]?.machine.context.entry?.id).toBeTruthy();
    await expectWorkerAt('pre-check', 'screening');
  });

  it('a tablet that is opened anew in the middle of donning asks what was seen, and walks through what was not', async () => {
    await robot.until('step');
    while (robot.pressed.filter((one) => one === 'verify-step').length < 3) await robot.pressNext();
    const done = async () => (await stateNow()).workers[worker]?.machine.context.entry?.done ?? [];
    await expect.poll(async () => (await done()).length).toBeGreaterThan(1);
    await tablet.reload();
    await tablet.locator('[data-test="tablet"][data-at="recheck"]').waitFor();
    expect(await accessibilityProblems(tablet)).toEqual([]);
    await tablet.locator('[data-test="seen-no"]:not([aria-disabled="true"])').click();
    await tablet.locator('[data-test="corrective"]').waitFor();
    const deviation = async () => (await stateNow()).workers[worker]?.machine.context.entry?.deviations[0];
    await expect.poll(async () => (await deviation())?.step).toBe((await done()).at(-2));
    const steps = (await deviation())?.corrective?.length ?? 0;
    await robot.until('recheck');
    expect(robot.pressed.filter((one) => one === 'verify-corrective')).toHaveLength(steps);
    await robot.until('step');
  });

  it('the tablet carries them through pre-check, kit and every donning step to the door', async () => {
    await robot.until('door');
    await expectWorkerAt('donned');
    const { machine } = (await stateNow()).workers[worker] ?? {};
    expect(machine?.context.entry?.limit).toMatchObject({ minutes: 75 });
    expect(machine?.context.entry?.outstanding.donning).toEqual([]);
    expect(robot.pressed.filter((one) => one === 'verify-step').length).toBeGreaterThan(10);
  });

  it('every press on the tablet is large enough for a gloved finger (60 px or more)', async () => {
    const sizes = await tablet.locator('[data-test="tablet"] button:visible').evaluateAll((buttons) =>
      buttons.map((button) => {
        const { width, height } = button.getBoundingClientRect();
        return { words: button.textContent?.trim(), least: Math.min(width, height) };
      }),
    );
    expect(sizes.length).toBeGreaterThan(2);
    expect(sizes.filter((one) => one.least < 60)).toEqual([]);
  });

  it('the three screens pass the accessibility rules (WCAG 2.2 AA, by axe)', async () => {
    for (const page of [board, tablet, safety]) expect(await accessibilityProblems(page)).toEqual([]);
  });

  it('the board counts their minutes inside', async () => {
    await robot.until('free');
    await expectWorkerAt('inside', 'working');
    await board.getByRole('button', { name: new RegExp(name) }).waitFor();
  });

  it('a breach is two presses away and reaches the safety officer at once, who answers and signs it off', async () => {
    await press(tablet, 'declare-breach');
    await press(tablet, 'breach-outer-glove-torn');
    await safety.getByText(name).first().waitFor();
    await press(safety, 'acknowledge-alert');
    await expect
      .poll(async () => Object.values((await stateNow()).alerts).map((alert) => [alert.context.kind, alert.value]))
      .toContainEqual(['breach', 'acknowledged']);
    await press(safety, 'open-clear-breach');
    await press(safety, 'usual-reason');
    await press(safety, 'clear-breach');
    await expect.poll(async () => (await stateNow()).workers[worker]?.machine.context.breaches).toEqual([]);
    const open = Object.values((await stateNow()).alerts).filter((alert) => alert.value !== 'cleared');
    expect(open.map((alert) => alert.context.kind)).not.toContain('breach');
    await press(tablet, 'back');
  });

  it('a power cut: every screen says NOT LIVE by itself, and goes on where it was when the server is back', async () => {
    const before = await stateNow();
    const port = new URL(server.url).port;
    await server.kill();
    for (const page of [board, tablet, safety]) await page.getByText('NOT LIVE').first().waitFor({ timeout: 15_000 });
    server = await runServer(['drill', '--empty', '--unit', quickUnit(), '--no-build', '--port', port], server.data);
    for (const page of [board, tablet, safety]) await page.locator('[data-live="true"]').waitFor({ timeout: 20_000 });
    const after = await stateNow();
    expect(after.workers).toEqual(before.workers);
    expect(after.number).toBeGreaterThanOrEqual(before.number);
  });

  it('the board calls them out, and the tablet brings them through the door, the lane and the post-check', async () => {
    await board
      .getByRole('button', { name: new RegExp(name) })
      .first()
      .click();
    await press(board, 'call-out');
    await board.keyboard.press('Escape');
    await robot.until('threshold');
    await expectWorkerAt('doffing', 'at-threshold');
    await robot.until('post-check');
    await expectWorkerAt('post-check', 'measuring');
    await robot.until('free');
    await expectWorkerAt('rest', 'recovering');
  });

  it('the record is whole: the entry was verified step by step and nothing is left open', async () => {
    const { facts } = (await (await fetch(`${server.url}/api/units/drill/log?after=0&limit=1000`)).json()) as {
      facts: { kind: string; data: { step?: string } }[];
    };
    const verified = facts.flatMap((fact) => (fact.kind === 'step-verified' ? [fact.data.step] : []));
    const procedure = demoUnit().procedures.find((one) => one.ensemble.garment === 'gown');
    expect([...verified].sort()).toEqual(procedure?.steps.map((step) => step.id).sort());
    expect(problems).toEqual([]);
  });
});
