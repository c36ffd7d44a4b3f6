import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { InvalidArgumentError, Option, type Command } from 'commander';
import { systemClock, type Clock } from '../clock.ts';
import { dataDefault, defaults, logLevels, type LogLevel, type ServerConfig } from '../config.ts';
import { DrillClock } from '../drill/drill-clock.ts';
import type { RunningServer } from '../main.ts';
import { buildClient } from './build-client.ts';

interface ServeFlags {
  port: number;
  host: string;
  data?: string;
  redis?: string;
  unit: string;
  logLevel: LogLevel;
  build: boolean;
}

export function addServe(program: Command): void {
  withServerFlags(program.command('serve'))
    .description('serve a unit to its devices')
    .action(async (flags: ServeFlags) => {
      await serve({ ...configOf(flags), drill: false });
    });
  withServerFlags(program.command('drill'))
    .description('serve an invented unit with a simulated shift, to try things out and to train')
    .option('--empty', 'the same unit with nobody simulated, for real use')
    .action(async (flags: ServeFlags & { empty?: boolean }) => {
      if (flags.empty) return serve({ ...configOf(flags), drill: false });
      await runDrill({ ...configOf({ ...flags, data: flags.data ?? temporaryData() }), drill: true });
    });
}

const temporaryData = (): string => mkdtempSync(join(tmpdir(), 'anteroom-drill-'));

function withServerFlags(command: Command): Command {
  return command
    .addOption(new Option('--port <number>', 'port to listen on').default(portOf(defaults.port)).argParser(portOf))
    .option('--host <address>', 'address to listen on; 0.0.0.0 for the whole network', defaults.host)
    .option('--data <dir>', 'directory for the log (default: data; for a drill a fresh temporary one)', defaults.data)
    .option('--redis <url>', 'keep the log in Redis instead, shared by several servers', defaults.redis)
    .option('--unit <file>', 'the unit to open', defaults.unitFile)
    .addOption(
      new Option('--log-level <level>', "how much the server's own journal says, on stderr")
        .choices(logLevels)
        .default(defaults.logLevel),
    )
    .option('--no-build', 'serve the pages as they were built last');
}

function portOf(text: string): number {
  const port = Number(text);
  if (/^\d{1,5}$/.test(text) && port <= 65_535) return port;
  throw new InvalidArgumentError('A port is a whole number from 0 to 65535.');
}

function configOf({ unit, data, ...flags }: ServeFlags): Omit<ServerConfig, 'drill'> {
  return { ...flags, unitFile: unit, data: data ?? dataDefault };
}

async function open(config: ServerConfig, clock?: Clock): Promise<RunningServer> {
  if (config.build) await buildClient(say);
  // Loaded only now, so that the small commands start at once.
  const { startServer } = await import('../main.ts');
  const server = await startServer(config, clock);
  announce(server, config);
  return server;
}

function announce({ unit, addresses, logAt }: RunningServer, { drill }: ServerConfig): void {
  const [first = ''] = addresses;
  const shift = drill ? ' (a drill: the people and the shift are invented)' : '';
  say(
    `${unit.loaded.settings.name}${shift}`,
    `  log       ${logAt}`,
    `  board     ${first}/board`,
    `  tablet    ${first}/tablet`,
    `  safety    ${first}/safety`,
    `  any device, with a QR code to open it elsewhere:`,
    ...addresses.map((address) => `            ${address}/`),
    'Who somebody is, is only their device’s word in this version: keep it on a network you trust.',
    'An aid, not a medical device. It never replaces the trained observer; local rules come first.',
  );
}

/** Plain lines for the person who gave the command. */
function say(...lines: string[]): void {
  process.stdout.write(lines.map((line) => `${line}\n`).join(''));
}

/** How long the shift has been under way when the first screen opens. */
const drillLeadMs = 140 * 60_000;

async function runDrill(config: ServerConfig): Promise<void> {
  const stopped = stopSignal();
  const real = systemClock();
  const clock = new DrillClock(real, real.now() - drillLeadMs);
  const server = await open(config, clock);
  const { unit, addresses } = server;
  // A log that is already there is gone on with, never behind its own last fact.
  clock.advanceTo(unit.authority.state.at);
  const { startDrill } = await import('../drill/drill.ts');
  const drill = startDrill({
    url: addresses.at(-1) ?? '',
    unit: unit.id,
    state: unit.authority.state,
    clock,
    seed: real.now(),
    onLive: () => say('The shift is under way.'),
    log: (sentence) => say(sentence),
  });
  let stopping = false;
  // A shift that can't go on is no reason to stop serving; one that was stopped has nothing more to say.
  drill.live.catch((error: unknown) => {
    if (!stopping) say(`The simulated shift has stopped: ${error instanceof Error ? error.message : String(error)}`);
  });
  await stopped;
  stopping = true;
  drill.stop();
  await close(server);
}

async function serve(config: ServerConfig): Promise<void> {
  const stopped = stopSignal();
  const server = await open(config);
  await stopped;
  await close(server);
}

/** Asked for before anything is opened, so that a stop that comes early is a clean one too. A second one ends at once. */
function stopSignal(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => resolve());
  });
}

async function close(server: RunningServer): Promise<void> {
  await server.close();
  say('Stopped. The log is closed.');
}
