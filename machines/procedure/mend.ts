import { stepId, type StepId } from '../wire/ids.ts';
import type { CounterExample } from './counter-example.ts';
import type { Procedure, Step } from './procedure.ts';
import type { AssumptionName } from './proof-fields.ts';
import { prove, searchLimits, type Proof } from './prove.ts';
import type { SearchLimits } from './search.ts';

/** A change to a procedure, as it is proposed to the person who answers for it. */
interface Change {
  sentence: string;
  apply: (procedure: Procedure) => Procedure;
}

export interface Mend {
  /** In the order in which they were found; none of them can be left out. */
  sentences: string[];
  procedure: Procedure;
}

type Assume = Partial<Record<AssumptionName, boolean>>;
type NotProved = Extract<Proof, { verdict: 'not-proved' }>;

const changesMost = 10;

/**
 * The smallest change after which a procedure holds: one more `after`, one more disinfection, a contact time, a way of taking
 * off. Where no single one is enough, the one that gets furthest is kept and the search goes on from there; at the end every
 * change that turns out not to be needed is dropped. Undefined where none was found, or not in the time that `goOn` gives.
 */
export function mendOf(
  procedure: Procedure,
  assume: Assume = {},
  { limits = searchLimits, goOn = () => true }: { limits?: SearchLimits; goOn?: () => boolean } = {},
): Mend | undefined {
  const tries: Tries = { goOn, prove: (one) => prove(one, assume, { limits }) };
  const known = new Set<string>(procedure.steps.map((step) => step.id));
  const changes: Change[] = [];
  let current = procedure;
  let proof = tries.prove(current);
  while (proof.verdict === 'not-proved' && changes.length < changesMost) {
    const best = furthest(current, proof, known, tries);
    if (!best) return undefined;
    changes.push(best.change);
    current = best.change.apply(current);
    proof = best.proof;
  }
  return proof.verdict === 'proved' && changes.length > 0 ? needed(procedure, changes, tries) : undefined;
}

interface Tries {
  prove: (procedure: Procedure) => Proof;
  goOn: () => boolean;
}

function needed(procedure: Procedure, changes: readonly Change[], tries: Tries): Mend {
  const applied = (some: readonly Change[]): Procedure =>
    some.reduce((changed, { apply }) => apply(changed), procedure);
  let kept = changes;
  for (const change of changes) {
    const without = kept.filter((one) => one !== change);
    if (tries.prove(applied(without)).verdict === 'proved') kept = without;
  }
  return { sentences: kept.map((one) => one.sentence), procedure: applied(kept) };
}

interface Tried {
  change: Change;
  proof: Proof;
}

function furthest(procedure: Procedure, proof: NotProved, known: ReadonlySet<string>, tries: Tries): Tried | undefined {
  let best: Tried | undefined;
  const start = reachOf(proof.counterExample, known);
  let reach = start;
  for (const change of changesFor(procedure, proof.counterExample)) {
    if (!tries.goOn()) return undefined;
    const tried = { change, proof: tries.prove(change.apply(procedure)) };
    if (tried.proof.verdict === 'proved') return tried;
    if (tried.proof.verdict !== 'not-proved') continue;
    const next = reachOf(tried.proof.counterExample, known);
    // As far, but no longer broken here: this much is mended.
    const isElsewhere = !best && next === start && breaks(tried.proof) !== breaks(proof);
    if (next > reach || isElsewhere) best = tried;
    reach = Math.max(reach, next);
  }
  return best;
}

const breaks = ({ counterExample }: NotProved): string | undefined => counterExample.steps.at(-1)?.id;

/** How far the order gets before it breaks: the phase counts more than any number of steps. Steps that a change added don't count. */
function reachOf({ starts, inRoom, steps }: CounterExample, known: ReadonlySet<string>): number {
  const phase = { donning: 0, 'at-the-door': 2, 'in-the-lane': 3, 'in-the-lane-after-emergency': 3 }[starts];
  return (inRoom ? 1 : phase) * 1000 + steps.filter((step) => known.has(step.id)).length;
}

function changesFor(procedure: Procedure, counterExample: CounterExample): Change[] {
  const last = counterExample.steps.at(-1);
  const breaking = procedure.steps.find((step) => step.id === last?.id);
  if (!breaking || counterExample.inRoom) return [];
  return [
    ...longerContacts(procedure, counterExample),
    ...otherWayOff(breaking),
    ...laterSteps(procedure, counterExample, breaking),
    ...moreHygiene(procedure, counterExample, breaking),
  ];
}

/** The same change to the same step of whatever procedure it is applied to. */
const changing =
  (id: StepId, change: (step: Step) => Step): Change['apply'] =>
  (procedure) => ({ ...procedure, steps: procedure.steps.map((step) => (step.id === id ? change(step) : step)) });

/** A step of the order could have been made to wait for one that was still to come. */
function laterSteps(procedure: Procedure, { steps, chain }: CounterExample, breaking: Step): Change[] {
  const done = new Set<string>(steps.map((step) => step.id));
  const carrying = new Set(chain.flatMap((one) => one.step ?? []));
  const open = procedure.steps.filter((step) => step.phase === breaking.phase && !done.has(step.id));
  const waiting = [breaking, ...procedure.steps.filter((step) => step.id !== breaking.id && carrying.has(step.id))];
  return waiting.flatMap((step) =>
    open
      .filter((other) => !comesAfter(procedure, other, step.id))
      .map((other) => ({
        sentence: `Let "${step.id}" come after "${other.id}".`,
        apply: changing(step.id, (one) => ({ ...one, after: [...one.after, other.id] })),
      })),
  );
}

/** Whether a step waits for another, directly or through others. */
function comesAfter({ steps }: Procedure, step: Step, other: StepId): boolean {
  const byId = new Map(steps.map((one) => [one.id, one]));
  const seen = new Set<StepId>();
  const waiting = [...step.after];
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    if (next === other) return true;
    if (seen.has(next)) continue;
    seen.add(next);
    waiting.push(...(byId.get(next)?.after ?? []));
  }
  return false;
}

/** Whoever breaks the rule disinfects before; or, when something is carried out, before the last look. */
function moreHygiene(procedure: Procedure, counterExample: CounterExample, breaking: Step): Change[] {
  const carried = new Set(counterExample.chain.map((one) => one.surface));
  const gloves = (procedure.ensemble.layers ?? [])
    .filter((layer) => layer.wornOn === 'hands')
    .map((layer) => layer.item);
  const hands = ['hands', ...gloves, 'assistant-gloves', 'observer-gloves'].filter((name) => carried.has(name));
  const look = procedure.steps.find((step) => step.phase === breaking.phase && step.looksAt?.includes('body'));
  const before = counterExample.rule === 'nothing-carried-out' ? (look ?? breaking) : breaking;
  return hands.flatMap((surface) => hygieneBefore(procedure, before, surface));
}

function hygieneBefore(procedure: Procedure, before: Step, surface: string): Change[] {
  const use = surface === 'hands' ? 'skin-before-gloves' : 'gloves';
  const agent = procedure.agents?.find((one) => one.suits.includes(use));
  if (!agent) return [];
  const usual = procedure.steps.find((step) => step.hygiene?.agent === agent.name)?.hygiene?.contactSeconds ?? 0;
  const by = surface === 'assistant-gloves' ? 'assistant' : surface === 'observer-gloves' ? 'observer' : 'worker';
  const seconds = Math.max(usual, agent.contactSeconds);
  const words = surface.replaceAll('-', ' ');
  const added: Omit<Step, 'after'> = {
    id: freeId(procedure, `${surface}-clean-before-${before.id}`),
    phase: before.phase,
    words: `Use ${agent.name} on the ${words} until dry.`,
    by,
    verifiedBy: 'observer',
    putsOn: [],
    takesOff: [],
    touches: [surface],
    hygiene: { agent: agent.name, contactSeconds: seconds, covers: [surface] },
    critical: true,
    uses: [],
  };
  const insert = ({ steps, ...rest }: Procedure): Procedure => ({
    ...rest,
    steps: steps.flatMap((step) =>
      step.id === before.id
        ? [
            { ...added, after: step.after },
            { ...step, after: [added.id] },
          ]
        : [step],
    ),
  });
  const sentence = `Before "${before.id}", disinfect the ${words} (${agent.name}, ${seconds} s).`;
  return [{ sentence, apply: insert }];
}

function freeId({ steps }: Procedure, wanted: string): StepId {
  const taken = new Set<string>(steps.map((step) => step.id));
  const short = wanted.slice(0, 60);
  const free = taken.has(short)
    ? Array.from(taken, (_, index) => `${short}-${index}`).find((id) => !taken.has(id))
    : short;
  return stepId.parse(free);
}

function longerContacts(procedure: Procedure, { steps }: CounterExample): Change[] {
  const done = new Set<string>(steps.map((step) => step.id));
  return procedure.steps.flatMap((step) => {
    const agent = procedure.agents?.find((one) => one.name === step.hygiene?.agent);
    if (!done.has(step.id) || !step.hygiene || !agent || step.hygiene.contactSeconds >= agent.contactSeconds) return [];
    const hygiene = { ...step.hygiene, contactSeconds: agent.contactSeconds };
    const sentence = `Give "${step.id}" the full contact time of ${agent.contactSeconds} s.`;
    return [{ sentence, apply: changing(step.id, (one) => ({ ...one, hygiene })) }];
  });
}

function otherWayOff(step: Step): Change[] {
  if (step.takesOff.length === 0 || step.comesOff === 'inside-out') return [];
  const sentence = `Let "${step.id}" take it off inside out (comesOff).`;
  return [{ sentence, apply: changing(step.id, (one) => ({ ...one, comesOff: 'inside-out' })) }];
}
