import { cpSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { demoFolder } from './demo-unit.ts';

/**
 * The demo unit with contact times of one second and no turnover, so that a browser can carry a worker through every step
 * in minutes. Steps, order and words are the shipped ones. Returns the path of its unit.yaml.
 */
export function quickUnit(): string {
  const folder = mkdtempSync(join(tmpdir(), 'anteroom-quick-'));
  cpSync(demoFolder, folder, { recursive: true });
  rewrite(join(folder, 'unit.yaml'), /turnoverMinutes: [\d.]+/g, 'turnoverMinutes: 0');
  rewrite(join(folder, 'unit.yaml'), /contactSeconds: \d+/g, 'contactSeconds: 1');
  const procedures = join(folder, 'procedures');
  for (const file of readdirSync(procedures))
    rewrite(join(procedures, file), /contactSeconds: \d+/g, 'contactSeconds: 1');
  return join(folder, 'unit.yaml');
}

function rewrite(path: string, pattern: RegExp, replacement: string): void {
  writeFileSync(path, readFileSync(path, 'utf8').replace(pattern, replacement));
}
