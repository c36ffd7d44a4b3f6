/**
 * What clothing adds to the screening index. Two published tables; a unit picks one, and the answer names it: the same words
 * ("polyolefin coverall") carry different numbers in each.
 */
export type AdjustmentSetId = 'niosh-2016-106' | 'iso-7243';

/** How much vapour the outer garment lets through: our own reading of the garment, the tables do not say. */
export type Barrier = 'permeable' | 'semi-permeable' | 'impermeable';

export interface Ensemble {
  /** The table's name in small letters, joined by hyphens. */
  id: string;
  name: string;
  /** Added to WBGT, °C. */
  adjustmentC: number;
  barrier: Barrier;
}

export interface AdjustmentSet {
  id: AdjustmentSetId;
  name: string;
  source: string;
  ensembles: readonly Ensemble[];
}

const ensemble = (name: string, adjustmentC: number, barrier: Barrier): Ensemble => ({
  id: ensembleId(name),
  name,
  adjustmentC,
  barrier,
});

const withHood = (one: Ensemble): Ensemble =>
  ensemble(`${one.name.replace(', no hood', '')} with hood`, one.adjustmentC + 1, one.barrier);

const isoWithoutHood = [
  ensemble('work clothes', 0, 'permeable'),
  ensemble('woven (cloth) coverall', 0, 'permeable'),
  ensemble('SMS single layer coverall', 0, 'semi-permeable'),
  ensemble('polyolefin single layer coverall', 2, 'semi-permeable'),
  ensemble('double layer woven', 3, 'permeable'),
  ensemble('long-sleeve vapour-barrier apron with gloves and booties over woven coverall', 4, 'impermeable'),
  ensemble('vapour-barrier coverall, no hood', 10, 'impermeable'),
  ensemble('vapour-barrier coverall over woven coverall, no hood', 12, 'impermeable'),
];

export const adjustmentSets: Record<AdjustmentSetId, AdjustmentSet> = {
  'niosh-2016-106': {
    id: 'niosh-2016-106',
    name: 'NIOSH 2016-106',
    source: 'NIOSH 2016-106, Table 3-2',
    ensembles: [
      ensemble('work clothes', 0, 'permeable'),
      ensemble('woven (cloth) coverall', 0, 'permeable'),
      ensemble('SMS polypropylene coverall', 0.5, 'semi-permeable'),
      ensemble('polyolefin coverall', 1, 'semi-permeable'),
      ensemble('double layer woven', 3, 'permeable'),
      ensemble('limited-use vapour-barrier coverall', 11, 'impermeable'),
    ],
  },
  'iso-7243': {
    id: 'iso-7243',
    name: 'ISO 7243:2017',
    source: 'ISO 7243:2017, Annex F (from memory)',
    // A hood of any kind adds 1 °C.
    ensembles: [...isoWithoutHood, ...isoWithoutHood.map(withHood)],
  },
};

/** Takes the table's own name or its id, in any case. */
export function findEnsemble(set: AdjustmentSet, nameOrId: string): Ensemble | undefined {
  const id = ensembleId(nameOrId);
  return set.ensembles.find((one) => one.id === id);
}

function ensembleId(name: string): string {
  return name
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
}
