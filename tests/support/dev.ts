import { spawn } from 'node:child_process';
import { createServer } from 'vite';

/**
 * `npm run dev`: the drill on a port of its own, and in front of it the pages straight from their sources, reloaded as they
 * change. Arguments go to the drill, e.g. `npm run dev -- --empty`.
 */
const serverPort = '4310';
const drill = spawn(
  process.execPath,
  ['server/cli/anteroom.mjs', 'drill', '--port', serverPort, '--no-build', ...process.argv.slice(2)],
  { stdio: ['ignore', 'ignore', 'inherit'] },
);
const pages = await createServer({ configFile: 'vite.config.ts' });
await pages.listen();
console.log('The drill runs behind these addresses: /board, /tablet, /safety');
pages.printUrls();

drill.on('exit', (code) => {
  process.exitCode = code ?? 1;
  void pages.close();
});
for (const signal of ['SIGINT', 'SIGTERM'] as const)
  process.once(signal, () => {
    drill.kill(signal);
    void pages.close();
  });
