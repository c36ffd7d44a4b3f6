import type { Browser, Page } from 'playwright-core';

export interface Opening {
  url: string;
  path: string;
  width: number;
  height: number;
  /** For everything a test waits for on the page. */
  timeoutMs: number;
  /** Hears of errors that nobody on the page has caught. */
  problems: string[];
}

/** A page in a context of its own, so as another device, once it is live. */
export async function openLive(browser: Browser, opening: Opening): Promise<Page> {
  const { url, path, width, height, timeoutMs, problems } = opening;
  const opened = await (await browser.newContext({ viewport: { width, height } })).newPage();
  opened.setDefaultTimeout(timeoutMs);
  opened.on('pageerror', (error) => problems.push(`${path}: ${error.message}`));
  await opened.goto(`${url}${path}`);
  await opened.locator('[data-live="true"]').waitFor();
  return opened;
}
