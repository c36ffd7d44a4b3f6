import { numberFields } from '../../machines/heat/heat-fields.ts';
import type { Vitals } from '../../machines/unit/settings.ts';
import { words } from '../words/words.ts';
import type { FurtherField } from './further.ts';
import { questionOf, type Question, type VitalField } from './vitals.ts';

/** What a number pad asks for, and what it asks back before a value is taken. */
export interface Pad {
  id: string;
  name: string;
  /** The unit, and what the unit allows or what it is for. */
  hint: string;
  ask: (value: number) => Question | undefined;
}

export function vitalPad(field: VitalField, others: Vitals): Pad {
  const { vitals, boundsAre, bounds } = words.tablet;
  const { name, unit } = vitals[field.name];
  const hasBound = field.low !== undefined || field.high !== undefined;
  return {
    id: field.name,
    name,
    hint: hasBound ? `${unit}; ${boundsAre(bounds(field.low, field.high))}` : unit,
    ask: (value) => questionOf(field.name, value, others),
  };
}

/** A further measurement: whatever is no slip is taken; what the server would refuse may not stand. */
export function furtherPad(field: FurtherField): Pad {
  const { name, unit, why } = words.heat.further[field];
  const { low, high } = numberFields[field];
  const isIn = (value: number) => value >= low && value <= high;
  return {
    id: field,
    name,
    hint: `${unit}. ${why}`,
    ask: (value) => {
      if (isIn(value)) return undefined;
      const perhaps = [value / 10, value * 10].map((one) => Math.round(one * 10) / 10).find(isIn);
      return { about: 'unlikely', mayStand: false, ...(perhaps !== undefined && { perhaps }) };
    },
  };
}
