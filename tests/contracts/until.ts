import { setTimeout as pause } from 'node:timers/promises';

/** For what another process or thread does in its own time: looks again and again, and fails after the deadline. */
export async function until(what: string, isSo: () => boolean | Promise<boolean>, withinMs = 15_000): Promise<void> {
  const deadline = performance.now() + withinMs;
  while (!(await isSo())) {
    if (performance.now() > deadline) throw new Error(`not within ${withinMs} ms: ${what}`);
    await pause(10);
  }
}
