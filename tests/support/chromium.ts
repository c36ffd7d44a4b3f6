import { existsSync } from 'node:fs';
import { chromium, type Browser } from 'playwright-core';

/** The distribution's Chromium, without its habit of calling home. */
export function launchChromium(): Promise<Browser> {
  const places = [
    process.env['ANTEROOM_CHROMIUM'],
    '/usr/bin/chromium',
    '/usr/bin/chromium-browser',
    '/usr/bin/google-chrome',
  ];
  const executablePath = places.find((place): place is string => place !== undefined && existsSync(place));
  if (!executablePath)
    throw new Error('No Chromium found: run `node tests/support/prepare.mjs`, or set ANTEROOM_CHROMIUM.');
  return chromium.launch({
    executablePath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
}
