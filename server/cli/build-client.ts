import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { clientDirectory, programDirectory } from '../config.ts';
import { StartError } from '../start-error.ts';

/** Builds the pages when there are none, or when their sources are newer. */
export async function buildClient(say: (line: string) => void): Promise<void> {
  const built = builtAt();
  if (built !== undefined && newest(['client', 'machines', 'vite.config.ts']) <= built) return;
  say(built === undefined ? 'Building the pages, once …' : 'Building the pages, their sources are newer …');
  try {
    const { build } = await import('vite');
    await build({
      configFile: join(programDirectory, 'vite.config.ts'),
      root: join(programDirectory, 'client'),
      logLevel: 'error',
    });
  } catch (error) {
    const [first = ''] = String(error instanceof Error ? error.message : error).split('\n');
    throw new StartError(`The pages could not be built: ${first}`);
  }
}

function builtAt(): number | undefined {
  const index = join(clientDirectory, 'index.html');
  return existsSync(index) ? statSync(index).mtimeMs : undefined;
}

function newest(places: readonly string[]): number {
  return Math.max(...places.map((place) => newestIn(join(programDirectory, place))));
}

function newestIn(path: string): number {
  if (!existsSync(path)) return 0;
  const about = statSync(path);
  if (!about.isDirectory()) return about.mtimeMs;
  // A directory's own time tells of a file that was taken away.
  return Math.max(about.mtimeMs, ...readdirSync(path).map((name) => newestIn(join(path, name))));
}
