import type { Proof, ProvedPhase } from './prove.ts';

type Proved = Extract<Proof, { verdict: 'proved' }>;

/** A proof as JSON can hold it: numbers of orders are digits, because there can be more than any number holds. */
export type CountedProof =
  | Exclude<Proof, Proved>
  | (Omit<Proved, 'phases' | 'orders'> & {
      phases: (Omit<ProvedPhase, 'orders'> & { orders: string })[];
      orders: string;
    });

export function countedProof(proof: Proof): CountedProof {
  if (proof.verdict !== 'proved') return proof;
  const phases = proof.phases.map((phase) => ({ ...phase, orders: String(phase.orders) }));
  return { ...proof, phases, orders: String(proof.orders) };
}
