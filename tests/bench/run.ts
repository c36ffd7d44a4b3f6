import { argv } from 'node:process';

/** `npm run bench -- NAME`: runs one benchmark, which prints ratios measured side by side in the same run. */
const benches: Readonly<Record<string, () => Promise<unknown>>> = {
  forecast: () => import('./forecast.ts'),
  heat: () => import('./heat.ts'),
  repair: () => import('./repair.ts'),
  rotation: () => import('./rotation.ts'),
};
const name = argv[2] ?? '';
const bench = Object.hasOwn(benches, name) ? benches[name] : undefined;
if (bench) await bench();
else {
  console.error(`bench: choose one of ${Object.keys(benches).join(', ')}`);
  process.exitCode = 2;
}
