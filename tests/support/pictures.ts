import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { guideOf, workersIn } from '../../machines/unit/questions.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { launchChromium } from './chromium.ts';
import { runServer } from './running-server.ts';

/**
 * `npm run pictures`: every screen of a drill under way, light and dark, at wall, tablet and phone size, into docs/pictures.
 * Nothing is arranged: what is on them is what the drill had come to.
 */
const folder = fileURLToPath(new URL('../../docs/pictures/', import.meta.url));
const sizes = { wall: [1920, 1080], tablet: [1180, 820], phone: [390, 844] } as const;
const schemes = ['light', 'dark'] as const;

async function stateOf(url: string): Promise<UnitState> {
  const unit = ((await (await fetch(`${url}/api/here`)).json()) as { unit: string }).unit;
  return ((await (await fetch(`${url}/api/units/${unit}/state`)).json()) as { state: UnitState }).state;
}

/** An observer who is guiding somebody through doffing, or donning, or else any. */
function observerToShow(state: UnitState): PersonId | undefined {
  const guided = [
    ...workersIn(state, 'doffing'),
    ...workersIn(state, 'pre-check', 'donning'),
    ...workersIn(state, 'pre-check'),
  ];
  return (
    guided.map(([id]) => guideOf(state, id)).find((one) => one !== undefined) ??
    (Object.keys(state.observers)[0] as PersonId)
  );
}

const personWith = (state: UnitState, role: string) => {
  const able = Object.values(state.roster).filter((person) => person.roles.some((one) => one === role));
  return (able.find((person) => !person.roles.includes('worker')) ?? able[0])?.id ?? '';
};

async function picture(browser: Browser, address: string, name: string): Promise<void> {
  for (const scheme of schemes)
    for (const [size, [width, height]] of Object.entries(sizes)) {
      const page: Page = await browser.newPage({ viewport: { width, height }, colorScheme: scheme });
      await page.goto(address);
      await page.waitForSelector('[data-live="true"], main h1');
      await page.evaluate(() => document.fonts.ready);
      await page.screenshot({ path: `${folder}${name}-${size}-${scheme}.png` });
      await page.close();
    }
}

mkdirSync(folder, { recursive: true });
const server = await runServer(['drill']);
const browser = await launchChromium();
try {
  await server.said('The shift is under way.');
  const state = await stateOf(server.url);
  await picture(browser, `${server.url}/board?as=${personWith(state, 'coordinator')}`, 'board');
  await picture(browser, `${server.url}/wall`, 'on-the-wall');
  await picture(browser, `${server.url}/tablet?as=${observerToShow(await stateOf(server.url)) ?? ''}`, 'tablet');
  await picture(browser, `${server.url}/safety?as=${personWith(state, 'safety-officer')}`, 'safety');
  await picture(browser, `${server.url}/lead?as=${personWith(state, 'lead')}`, 'lead');
  await picture(browser, `${server.url}/rotation?as=${personWith(state, 'coordinator')}`, 'rotation');
  await picture(browser, `${server.url}/`, 'door');
} finally {
  await browser.close();
  await server.stop();
}
