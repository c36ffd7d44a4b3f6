import { answered, type HeatAnswer } from '../../machines/heat/heat-refusal.ts';
import { prepareConditions, type PreparedConditions } from './strain-conditions.ts';
import { checkStrainInput, outsideRange, type OutsideRange, type StrainInput } from './strain-input.ts';

/*
 Predicted heat strain, equations of ISO 7933:2004, one minute at a time.

 startStrain ──▶ state ──stepMinute / advance──▶ state ──▶ …      (plain numbers: keep it, send it, store it)
                            ▲
 prepareConditions ─────────┘   made anew when the room, the work or the clothing changes; everything that stays the
                                same while they do is in there, so a minute costs one exp, two square roots and no search

 The standard finds the clothing and the core temperature by trial until two guesses are within 0.001 °C. Here the first is
 Newton's method (two steps from a near guess) and the second is solved outright, so no input can make a loop run on;
 the checks hold both to the standard's own examples and to another implementation of it.
*/

/** Where one body stands after `minute` minutes. Plain data; two runs that passed through it go on alike. */
export interface StrainState {
  minute: number;
  rectalTemperatureC: number;
  coreTemperatureC: number;
  skinTemperatureC: number;
  /** The core temperature the present work alone leads to, after its own delay. */
  equilibriumCoreTemperatureC: number;
  sweatRateWm2: number;
  waterLossG: number;
  /** The first minute at which each limit was reached; absent until then. */
  coreTemperatureReachedMin?: number;
  waterLossMeanReachedMin?: number;
  waterLoss95ReachedMin?: number;
}

export interface StrainPrediction {
  rectalTemperatureC: number;
  coreTemperatureC: number;
  skinTemperatureC: number;
  sweatRateWm2: number;
  waterLossG: number;
  /** The duration asked about, where a limit is not reached within it. */
  limitCoreTemperatureMin: number;
  limitWaterLossMeanMin: number;
  limitWaterLoss95Min: number;
  coreTemperatureReached: boolean;
  waterLossReached: boolean;
  outsideRange: OutsideRange[];
}

/** The rectal temperature that ends an exposure, °C: ISO 7933:2004. */
export const rectalTemperatureLimitC = 38;

const startCoreTemperatureC = 36.8;
const startSkinTemperatureC = 34.1;

/**
 * The start of an entry, ISO 7933:2004 initial values, unless the person was measured.
 * @param coreTemperatureC measured core temperature, °C
 */
export function startStrain(coreTemperatureC: number = startCoreTemperatureC): StrainState {
  return {
    minute: 0,
    rectalTemperatureC: coreTemperatureC,
    coreTemperatureC,
    skinTemperatureC: startSkinTemperatureC,
    equilibriumCoreTemperatureC: coreTemperatureC,
    sweatRateWm2: 0,
    waterLossG: 0,
    coreTemperatureReachedMin: undefined,
    waterLossMeanReachedMin: undefined,
    waterLoss95ReachedMin: undefined,
  };
}

/** A whole exposure under one set of conditions, from the start. Refuses what is not a number or is absurd. */
export function predict(input: StrainInput): HeatAnswer<StrainPrediction> {
  const refusal = checkStrainInput(input);
  if (refusal) return { ok: false, refusal };
  const end = advance(startStrain(input.startCoreTemperatureC), prepareConditions(input, input), input.durationMin);
  return answered({
    rectalTemperatureC: end.rectalTemperatureC,
    coreTemperatureC: end.coreTemperatureC,
    skinTemperatureC: end.skinTemperatureC,
    sweatRateWm2: end.sweatRateWm2,
    waterLossG: end.waterLossG,
    limitCoreTemperatureMin: end.coreTemperatureReachedMin ?? input.durationMin,
    limitWaterLossMeanMin: end.waterLossMeanReachedMin ?? input.durationMin,
    limitWaterLoss95Min: end.waterLoss95ReachedMin ?? input.durationMin,
    coreTemperatureReached: end.coreTemperatureReachedMin !== undefined,
    waterLossReached: end.waterLoss95ReachedMin !== undefined,
    outsideRange: outsideRange(input),
  });
}

export interface StrainPoint {
  minute: number;
  rectalTemperatureC: number;
  waterLossG: number;
}

/** The hours to come, for a plot: one point every `everyMin` minutes, the first at the state itself. */
export function strainPath(
  from: StrainState,
  prepared: PreparedConditions,
  minutes: number,
  everyMin: number,
): StrainPoint[] {
  const points = [pointOf(from)];
  let state = from;
  for (let ahead = everyMin; ahead <= minutes; ahead += everyMin) {
    state = advance(state, prepared, everyMin);
    points.push(pointOf(state));
  }
  return points;
}

const pointOf = ({ minute, rectalTemperatureC, waterLossG }: StrainState): StrainPoint => ({
  minute,
  rectalTemperatureC,
  waterLossG,
});

/** One minute under these conditions. */
export function stepMinute(state: StrainState, prepared: PreparedConditions): StrainState {
  return advance(state, prepared, 1);
}

const equilibriumKept = Math.exp(-1 / 10);
const skinKept = Math.exp(-1 / 3);
const sweatKept = Math.exp(-1 / 10);

/**
 * `minutes` whole minutes under unchanged conditions. The same arithmetic as as many single steps, in the same order, so the
 * result is the same to the last bit; only the state in between is not written down.
 */
export function advance(state: StrainState, prepared: PreparedConditions, minutes: number): StrainState {
  let { rectalTemperatureC: rectal, coreTemperatureC: core, skinTemperatureC: skin } = state;
  let { equilibriumCoreTemperatureC: equilibrium, sweatRateWm2: sweat } = state;
  let { waterLossG, coreTemperatureReachedMin, waterLossMeanReachedMin, waterLoss95ReachedMin } = state;
  let skinShare = skinShareAt(core);
  const until = state.minute + minutes;
  for (let minute = state.minute + 1; minute <= until; minute += 1) {
    const equilibriumRise = (prepared.equilibriumTargetC - equilibrium) * (1 - equilibriumKept);
    equilibrium += equilibriumRise;
    const stored = prepared.heatCapacityWMinPerM2K * equilibriumRise * (1 - skinShare);

    const skinBefore = skin;
    skin = skinBefore * skinKept + (prepared.skinBaseC + prepared.skinPerRectal * rectal) * (1 - skinKept);

    const clothing = clothingTemperature(prepared, skin);
    const evaporationMax = Math.max(
      0,
      (skinVapourPressureKPa(skin) - prepared.vapourPressureKPa) * prepared.evaporationPerKPa,
    );
    const required = Math.max(
      0,
      prepared.heatToLoseWm2 - stored - dryLoss(prepared, asTrialLeavesIt(prepared, clothing)),
    );
    sweat = sweat * sweatKept + requiredSweat(required, evaporationMax, prepared.sweatMaxWm2) * (1 - sweatKept);
    const evaporation = evaporationFrom(sweat, evaporationMax, prepared.wettednessMax);

    const storage = (required - evaporation + stored) / prepared.heatCapacityWMinPerM2K;
    core = coreTemperature(storage + (skinBefore * skinShare) / 2 + core * (1 - skinShare / 2), skin);
    skinShare = skinShareAt(core);
    rectal += (2 * core - 1.962 * rectal - 1.31) / 9;
    waterLossG += (sweat + prepared.breathEvaporationWm2) * prepared.waterGPerWm2Min;

    if (rectal >= rectalTemperatureLimitC) coreTemperatureReachedMin ??= minute;
    if (waterLossG >= prepared.waterLossMeanLimitG) waterLossMeanReachedMin ??= minute;
    if (waterLossG >= prepared.waterLoss95LimitG) waterLoss95ReachedMin ??= minute;
  }
  return {
    minute: until,
    rectalTemperatureC: rectal,
    coreTemperatureC: core,
    skinTemperatureC: skin,
    equilibriumCoreTemperatureC: equilibrium,
    sweatRateWm2: sweat,
    waterLossG,
    coreTemperatureReachedMin,
    waterLossMeanReachedMin,
    waterLoss95ReachedMin,
  };
}

/** Saturated water vapour at skin temperature, kPa. */
function skinVapourPressureKPa(skinC: number): number {
  return 0.6105 * Math.exp((17.27 * skinC) / (skinC + 237.3));
}

/** The temperature at which the clothing passes on, to air and walls, just the heat it gets from the skin. */
function clothingTemperature(prepared: PreparedConditions, skinC: number): number {
  const guess = prepared.clothingBaseC + prepared.clothingPerSkin * skinC;
  return newtonStep(prepared, skinC, newtonStep(prepared, skinC, guess));
}

function newtonStep(prepared: PreparedConditions, skinC: number, clothingC: number): number {
  const kelvin = clothingC + 273;
  const cubed = kelvin * kelvin * kelvin * prepared.radiationWm2K4;
  const excess = dryLoss(prepared, clothingC) - (skinC - clothingC) * prepared.clothingConductanceWm2K;
  return clothingC - excess / (prepared.convectionWm2K + 4 * cubed + prepared.clothingConductanceWm2K);
}

/**
 * The standard's trial starts at the walls' temperature and stops 0.0005 to 0.001 °C short of the answer. Over eight hours that
 * is up to half a gram of water, and the printed examples carry it; so its mean is kept here.
 */
function asTrialLeavesIt(prepared: PreparedConditions, clothingC: number): number {
  return clothingC > prepared.trialStartC ? clothingC - trialShortfallC : clothingC + trialShortfallC;
}

const trialShortfallC = 0.000721;

/** Heat lost from the clothing surface by convection and radiation, W/m². */
function dryLoss(prepared: PreparedConditions, clothingC: number): number {
  const squared = (clothingC + 273) * (clothingC + 273);
  return (
    prepared.convectionWm2K * (clothingC - prepared.airTemperatureC) +
    prepared.radiationWm2K4 * squared * squared -
    prepared.radiationFromWallsWm2
  );
}

/** The sweat that would keep the balance, at most what the body can make, W/m². */
function requiredSweat(required: number, evaporationMax: number, sweatMax: number): number {
  if (required <= 0) return 0;
  const wettedness = required / evaporationMax;
  if (!(wettedness < 1.7)) return sweatMax;
  // Above full wetness sweat drips: its efficiency falls off on the mirrored parabola.
  const efficiency = wettedness > 1 ? ((2 - wettedness) * (2 - wettedness)) / 2 : 1 - (wettedness * wettedness) / 2;
  return Math.min(required / efficiency, sweatMax);
}

/** What of this sweat evaporates, W/m². */
function evaporationFrom(sweat: number, evaporationMax: number, wettednessMax: number): number {
  if (sweat <= 0) return 0;
  const ratio = evaporationMax / sweat;
  const wettedness = ratio < 0.5 ? 1 : Math.sqrt(ratio * ratio + 2) - ratio;
  return Math.min(wettedness, wettednessMax) * evaporationMax;
}

/** The warmer the core, the less of the body stays at skin temperature. */
function skinShareAt(coreC: number): number {
  return Math.min(0.3, Math.max(0.1, 0.3 - 0.09 * (coreC - 36.8)));
}

const warmestOfFullShareC = 36.8;
const coolestOfLeastShareC = 36.8 + 0.2 / 0.09;

/**
 * The core temperature t that holds t − (s/2)(t − skin) = mean, s being the skin share at t itself: straight lines where the
 * share is at its ends, a parabola between them.
 */
function coreTemperature(meanC: number, skinC: number): number {
  const withFullShare = (meanC - 0.15 * skinC) / 0.85;
  if (withFullShare <= warmestOfFullShareC) return withFullShare;
  const withLeastShare = (meanC - 0.05 * skinC) / 0.95;
  if (withLeastShare >= coolestOfLeastShareC) return withLeastShare;
  const halfShareAtZero = 0.15 + 0.045 * 36.8;
  const linear = 1 - halfShareAtZero - 0.045 * skinC;
  const constant = halfShareAtZero * skinC - meanC;
  return (Math.sqrt(linear * linear - 0.18 * constant) - linear) / 0.09;
}

/**
 * The engine compiles for the kinds of number that it has seen in a field, and throws the code away when another kind turns up: air
 * of 32 °C and then of 32.1, a limit not reached and then reached. What is compiled after that may be good for long runs alone, and
 * a single minute, which is what a live entry asks for, then costs four times as much. So every kind is shown at once.
 */
const shown = prepareConditions(
  { weightKg: 71.37, heightM: 1.71, acclimatised: false, drinkingFreely: true },
  {
    ...{ airTemperatureC: 31.3, radiantTemperatureC: 33.7, vapourPressureKPa: 2.3, airSpeedMs: 0.3 },
    ...{ metabolicRateWm2: 190.5, clothingInsulationClo: 0.7, permeabilityIndex: 0.38, posture: 'standing' },
  },
);
advance(startStrain(36.9), shown, 1);
advance({ ...startStrain(39.5), waterLossG: 99_999.5 }, shown, 1);
