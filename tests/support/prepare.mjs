// Makes a new machine ready for `npm run check`: the tests need a real Chromium and a real redis-server. Where one is missing
// and this is a Debian-like machine with the rights for it, it is installed from the distribution; otherwise the check stops
// here with one line that says what to install. Nothing is skipped silently.
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

const needs = [
  {
    name: 'Chromium',
    debian: 'chromium',
    found: () =>
      Boolean(process.env.ANTEROOM_CHROMIUM && existsSync(process.env.ANTEROOM_CHROMIUM)) ||
      onPath('chromium') ||
      onPath('chromium-browser') ||
      onPath('google-chrome'),
  },
  { name: 'redis-server', debian: 'redis-server', found: () => onPath('redis-server') },
];

function onPath(command) {
  return (process.env.PATH ?? '').split(':').some((folder) => folder && existsSync(`${folder}/${command}`));
}

function run(command, args) {
  const done = spawnSync(command, args, {
    stdio: ['ignore', 'ignore', 'inherit'],
    env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
  });
  return done.status === 0;
}

function install(packages) {
  const root = process.getuid?.() === 0;
  const apt = (...args) => (root ? run('apt-get', args) : run('sudo', ['-n', 'apt-get', ...args]));
  return apt('update', '-qq') && apt('install', '-y', '-qq', '--no-install-recommends', ...packages);
}

const missing = needs.filter((need) => !need.found());
if (missing.length > 0) {
  const names = missing.map((need) => need.name).join(' and ');
  const packages = missing.map((need) => need.debian);
  console.log(`prepare: installing ${names} (${packages.join(' ')}) for the tests`);
  if (!onPath('apt-get') || !install(packages)) {
    console.error(
      `prepare: the tests need ${names}. Install ${packages.join(' and ')} (on Debian: apt-get install ${packages.join(' ')}), then run this again.`,
    );
    process.exit(1);
  }
}
console.log('prepare: Chromium and redis-server are here');
