import type { Procedure, Step } from './procedure.ts';

/**
 * Where published studies found that doffing goes wrong. Values are from the abstracts or quoted text of the studies; they are
 * about other units with other procedures, and are shown beside a unit's own counts, never instead of them.
 */
export type HotSpot = 'hand-hygiene' | 'powered-hood' | 'garment-off' | 'boot-covers' | 'glove-change';

export interface Published {
  hotSpot: HotSpot;
  finding: string;
  source: string;
}

const mumma2018 = 'Mumma et al., Clin Infect Dis 2018;66:950 (abstract): 11 experienced workers, trained observer';
const mumma2019 = 'Mumma et al., Clin Infect Dis 2019;69 S3:S214 (abstract): 41 workers, 4 hospitals';
const kwon2017 = 'Kwon et al., Infect Control Hosp Epidemiol 2017 (abstract): 18 people in Ebola equipment';

export const published: readonly Published[] = [
  { hotSpot: 'hand-hygiene', finding: 'The highest total risk index of all steps: 111.', source: mumma2018 },
  { hotSpot: 'hand-hygiene', finding: 'Risk above average in every hospital.', source: mumma2019 },
  { hotSpot: 'powered-hood', finding: 'The second highest total risk index: 70.', source: mumma2018 },
  { hotSpot: 'garment-off', finding: 'Risk above average in every hospital.', source: mumma2019 },
  { hotSpot: 'boot-covers', finding: 'Risk above average in every hospital.', source: mumma2019 },
  { hotSpot: 'boot-covers', finding: 'Named as a special problem.', source: kwon2017 },
  { hotSpot: 'glove-change', finding: 'Errors with gloves or hand hygiene in 67 % of people.', source: kwon2017 },
];

/** For the whole of it, where no step is named. */
export const publishedOverall: readonly Omit<Published, 'hotSpot'>[] = [
  {
    finding:
      'A deviation in 27 % of donnings and in every doffing; median 4 in each doffing. 15 were by assistant or observer.',
    source: kwon2017,
  },
];

/** Which published trouble spot a step is an instance of; only doffing was studied. */
export function hotSpotOf({ ensemble }: Procedure, step: Step): HotSpot | undefined {
  if (step.phase !== 'doffing') return undefined;
  if (step.hygiene) return 'hand-hygiene';
  const wornOn = (item: string) => ensemble.layers?.find((layer) => layer.item === item)?.wornOn;
  const off = step.takesOff.map(wornOn);
  if (off.includes('head') && ensemble.respirator === 'powered-loose-fitting') return 'powered-hood';
  if (off.includes('body')) return 'garment-off';
  if (off.includes('feet')) return 'boot-covers';
  const on = step.putsOn.map(wornOn);
  return off.includes('hands') || on.includes('hands') ? 'glove-change' : undefined;
}
