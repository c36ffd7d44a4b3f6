import { argv } from 'node:process';
import { seededChance } from '../../server/seeded-chance.ts';
import { eventKinds, randomEvent, type EventKind } from '../support/repair-events.ts';
import { adoptedPlans, bestOf, tryRepair, type RepairTrial } from '../support/repair-trial.ts';

/**
 * `npm run bench -- repair [EVENTS]`: so many random events of each kind on each of three plans of 24 hours (4 unless told, about four
 * and a half minutes), each repaired within 200 ms and compared with the best that seconds find. Events depend on the seed alone. What
 * is printed is the table of docs/rotation.md.
 */
const eventsEach = Number(argv[3] ?? 4);
const budgetMs = 200;
const bestMs = 2000;
const movesOfPlans = 10_000;
const changesMost = 3;

type Measured = RepairTrial & { above: number };

const sorted = (rows: readonly Measured[], of: (row: Measured) => number) => rows.map(of).sort((a, b) => a - b);
const at = (values: readonly number[], share: number) => values[Math.max(0, Math.ceil(share * values.length) - 1)]!;

function line(label: string, rows: readonly Measured[]): string {
  const spread = (of: (row: Measured) => number, digits = 0) =>
    [0.5, 0.9, 1].map((share) => at(sorted(rows, of), share).toFixed(digits)).join(' / ');
  const possible = rows.filter(({ isHopeless }) => !isHopeless);
  const legal = possible.filter(({ wrong, lateMinutes }) => wrong.length === 0 && lateMinutes === 0);
  const many = rows.filter(({ changed, forced }) => changed - forced > changesMost);
  return `| ${[
    label,
    `${legal.length} of ${possible.length}`,
    spread(({ firstMs }) => firstMs),
    spread(({ above }) => above),
    spread(({ changed }) => changed),
    spread(({ forced }) => forced),
    `${many.length} of ${rows.length}`,
  ].join(' | ')} |`;
}

function measure(plan: ReturnType<typeof adoptedPlans>[number], kind: EventKind, seed: number): Measured[] {
  const chance = seededChance(seed);
  return Array.from({ length: eventsEach }, () => {
    const event = randomEvent(kind, plan.instance, plan.plan, chance);
    const trial = tryRepair(event, budgetMs);
    return { ...trial, above: Math.max(0, trial.objective - bestOf(event, bestMs)) };
  });
}

if (!Number.isInteger(eventsEach) || eventsEach < 1)
  throw new Error('The number of events must be a whole number from 1.');
const plans = adoptedPlans(movesOfPlans);
// The first call compiles: a server's thread has done so before anything happens.
tryRepair(randomEvent('lane lost 2 h', plans[0]!.instance, plans[0]!.plan, seededChance(1)), 5 * budgetMs);
const all: Measured[] = [];
console.log('| plan, event | legal | first plan, ms | above the best | changed | at least | > 3 more |');
console.log('|---|---|---|---|---|---|---|');
for (const [planAt, plan] of plans.entries()) {
  for (const [kindAt, kind] of eventKinds.entries()) {
    const rows = measure(plan, kind, 1000 * planAt + kindAt + 7);
    console.log(line(`${plan.name.split('-')[0]}, ${kind}`, rows));
    all.push(...rows);
  }
}
console.log(line('all', all));
const took = sorted(all, ({ tookMs }) => tookMs);
console.log(`\n${all.length} events; a call took ${at(took, 0.5).toFixed(0)} ms, at most ${at(took, 1).toFixed(0)} ms`);
console.log(`no plan can keep every rule: ${all.filter(({ isHopeless }) => isHopeless).length}`);
console.log(`more than 300 above the best: ${all.filter(({ above }) => above > 300).length}; node ${process.version}`);
