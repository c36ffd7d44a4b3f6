/** The person, as far as the prediction knows one: an average healthy body of this size. */
export interface StrainPerson {
  weightKg: number;
  heightM: number;
  acclimatised: boolean;
  /** False: nobody can drink during the exposure, so the water-loss limit is 3 % of body mass, for everybody. */
  drinkingFreely: boolean;
}

export const postures = ['standing', 'sitting', 'crouching'] as const;
export type Posture = (typeof postures)[number];

export interface StrainConditions {
  airTemperatureC: number;
  radiantTemperatureC: number;
  vapourPressureKPa: number;
  airSpeedMs: number;
  /** Per square metre of skin, as the equations take it. */
  metabolicRateWm2: number;
  clothingInsulationClo: number;
  /** Static moisture permeability index, 0 to 1: 0.38 for ordinary clothing. */
  permeabilityIndex: number;
  posture: Posture;
  /** Absent or 0: not known; the standard then takes it from the work rate. */
  walkingSpeedMs?: number;
  /** Angle between walking and wind, degrees; absent: any direction. */
  walkingDirectionDeg?: number;
}

/** Everything that stays the same while the conditions do. Made by `prepareConditions`; plain numbers. */
export interface PreparedConditions {
  airTemperatureC: number;
  vapourPressureKPa: number;
  heatCapacityWMinPerM2K: number;
  equilibriumTargetC: number;
  /** Skin temperature towards which the skin moves = base + perRectal × rectal temperature. */
  skinBaseC: number;
  skinPerRectal: number;
  /** Metabolic rate less what the breath carries off, W/m². */
  heatToLoseWm2: number;
  breathEvaporationWm2: number;
  convectionWm2K: number;
  radiationWm2K4: number;
  radiationFromWallsWm2: number;
  clothingConductanceWm2K: number;
  /** The clothing temperature if walls radiated in proportion = base + perSkin × skin temperature; the first guess. */
  clothingBaseC: number;
  clothingPerSkin: number;
  /** Where the standard's trial for the clothing temperature starts. */
  trialStartC: number;
  evaporationPerKPa: number;
  sweatMaxWm2: number;
  wettednessMax: number;
  waterGPerWm2Min: number;
  waterLossMeanLimitG: number;
  waterLoss95LimitG: number;
}

/** Body surface, m²: DuBois. */
export function bodySurfaceM2(person: { weightKg: number; heightM: number }): number {
  return 0.202 * person.weightKg ** 0.425 * person.heightM ** 0.725;
}

/** All that ISO 7933:2004 computes once per set of conditions. Symbols of the standard are in the comments. */
export function prepareConditions(person: StrainPerson, conditions: StrainConditions): PreparedConditions {
  const { airTemperatureC, radiantTemperatureC, vapourPressureKPa, metabolicRateWm2 } = conditions;
  const surface = bodySurfaceM2(person);
  const wind = relativeWind(conditions);
  const clothing = dynamicClothing(conditions, wind);
  const breath = breathLoss(conditions);
  const skin = skinEquilibrium(conditions);
  const radiation = clothing.areaFactor * clothingEmissivity * stefanBoltzmann * radiatingShare[conditions.posture];
  const convection = clothing.areaFactor * convectionCoefficient(airTemperatureC, wind.airSpeedMs);
  const nearWalls = 4 * radiation * (radiantTemperatureC + 273) ** 3;
  const conductance = convection + nearWalls + clothing.conductanceWm2K;
  return {
    airTemperatureC,
    vapourPressureKPa,
    // 3470 J/kg/K over 60 s: c_sp
    heatCapacityWMinPerM2K: (57.83 * person.weightKg) / surface,
    equilibriumTargetC: 0.0036 * metabolicRateWm2 + 36.6,
    ...skin,
    heatToLoseWm2: metabolicRateWm2 - breath.convectionWm2 - breath.evaporationWm2,
    breathEvaporationWm2: breath.evaporationWm2,
    convectionWm2K: convection,
    radiationWm2K4: radiation,
    radiationFromWallsWm2: radiation * (radiantTemperatureC + 273) ** 4,
    clothingConductanceWm2K: clothing.conductanceWm2K,
    clothingBaseC: (convection * airTemperatureC + nearWalls * radiantTemperatureC) / conductance,
    clothingPerSkin: clothing.conductanceWm2K / conductance,
    trialStartC: radiantTemperatureC + 0.1,
    evaporationPerKPa: clothing.evaporationPerKPa,
    ...sweatAndWater(person, surface, metabolicRateWm2),
  };
}

const stefanBoltzmann = 5.67e-8;
/** No reflective clothing: emissivity of cloth and skin. */
const clothingEmissivity = 0.97;
/** A_r / A_Du */
const radiatingShare: Record<Posture, number> = { standing: 0.77, sitting: 0.7, crouching: 0.67 };

interface RelativeWind {
  /** v_ar: the air's speed as the walker feels it. */
  airSpeedMs: number;
  walkingSpeedMs: number;
}

function relativeWind(conditions: StrainConditions): RelativeWind {
  const { airSpeedMs, walkingSpeedMs, walkingDirectionDeg, metabolicRateWm2 } = conditions;
  if (!walkingSpeedMs) {
    return { airSpeedMs, walkingSpeedMs: Math.max(0, Math.min(0.7, 0.0052 * (metabolicRateWm2 - 58))) };
  }
  if (walkingDirectionDeg === undefined) return { airSpeedMs: Math.max(airSpeedMs, walkingSpeedMs), walkingSpeedMs };
  const along = walkingSpeedMs * Math.cos((walkingDirectionDeg * Math.PI) / 180);
  return { airSpeedMs: Math.abs(airSpeedMs - along), walkingSpeedMs };
}

interface DynamicClothing {
  /** f_cl */
  areaFactor: number;
  /** 1 / I_cl,dyn */
  conductanceWm2K: number;
  /** 1 / R_t,dyn */
  evaporationPerKPa: number;
}

const boundaryInsulation = 0.111;
/** Beyond this speed the published polynomial for bare skin turns and would have more wind insulate; held at its least. */
const windOfLeastInsulationMs = 0.472 / (2 * 0.047);
/** With no clothing the clothing temperature is the skin's; a thousandth of a clo keeps the equation the same for both. */
const leastClothingInsulation = 0.000155;

/** Insulation and vapour resistance as moving and wind change them. */
function dynamicClothing(conditions: StrainConditions, wind: RelativeWind): DynamicClothing {
  const clo = conditions.clothingInsulationClo;
  const areaFactor = 1 + 0.3 * clo;
  const walking = Math.min(1.5, wind.walkingSpeedMs);
  const clothedWind = Math.min(3, wind.airSpeedMs);
  const bareWind = Math.min(windOfLeastInsulationMs, wind.airSpeedMs);
  const byWalking = (0.094 * walking - 0.378) * walking;
  const clothed = Math.min(1, 1.044 * Math.exp((0.066 * clothedWind - 0.398) * clothedWind + byWalking));
  const bare = Math.min(1, Math.exp((0.047 * bareWind - 0.472) * bareWind + (0.117 * walking - 0.342) * walking));
  const correction = clo <= 0.6 ? ((0.6 - clo) * bare + clo * clothed) / 0.6 : clothed;
  const total = (clo * 0.155 + boundaryInsulation / areaFactor) * correction;
  const ofClothing = Math.max(leastClothingInsulation, total - (bare * boundaryInsulation) / areaFactor);
  const permeability = Math.min(0.9, conditions.permeabilityIndex * ((2.6 * correction - 6.5) * correction + 4.9));
  return {
    areaFactor,
    conductanceWm2K: 1 / ofClothing,
    evaporationPerKPa: (permeability * 16.7) / total,
  };
}

/** C_res and E_res, W/m². */
function breathLoss({ airTemperatureC, vapourPressureKPa, metabolicRateWm2 }: StrainConditions) {
  const breathedOutC = 28.56 + 0.115 * airTemperatureC + 0.641 * vapourPressureKPa;
  return {
    convectionWm2: 0.001516 * metabolicRateWm2 * (breathedOutC - airTemperatureC),
    evaporationWm2: 0.00127 * metabolicRateWm2 * (59.34 + 0.53 * airTemperatureC - 11.63 * vapourPressureKPa),
  };
}

/** Convection is taken at the skin temperature of the start, so that it depends on the conditions alone. */
function convectionCoefficient(airTemperatureC: number, airSpeedMs: number): number {
  const forced = airSpeedMs > 1 ? 8.7 * airSpeedMs ** 0.6 : 3.5 + 5.2 * airSpeedMs;
  return Math.max(forced, 2.38 * Math.abs(34.1 - airTemperatureC) ** 0.25);
}

/** Between 0.2 and 0.6 clo the skin of the clothed and of the bare body are mixed in proportion. */
function skinEquilibrium(conditions: StrainConditions): { skinBaseC: number; skinPerRectal: number } {
  const { airTemperatureC, radiantTemperatureC, vapourPressureKPa, airSpeedMs, metabolicRateWm2 } = conditions;
  const clothed =
    12.165 +
    0.02017 * airTemperatureC +
    0.04361 * radiantTemperatureC +
    0.19354 * vapourPressureKPa -
    0.25315 * airSpeedMs +
    0.005346 * metabolicRateWm2;
  const bare =
    7.191 + 0.064 * airTemperatureC + 0.061 * radiantTemperatureC + 0.198 * vapourPressureKPa - 0.348 * airSpeedMs;
  const share = Math.min(1, Math.max(0, 2.5 * (conditions.clothingInsulationClo - 0.2)));
  return { skinBaseC: bare + (clothed - bare) * share, skinPerRectal: 0.616 + (0.51274 - 0.616) * share };
}

function sweatAndWater(person: StrainPerson, surface: number, metabolicRateWm2: number) {
  const sweatMax = Math.min(400, Math.max(250, (metabolicRateWm2 - 32) * surface));
  const massG = person.weightKg * 1000;
  return {
    sweatMaxWm2: person.acclimatised ? sweatMax * 1.25 : sweatMax,
    wettednessMax: person.acclimatised ? 1 : 0.85,
    waterGPerWm2Min: (2.67 * surface) / 1.8 / 60,
    waterLossMeanLimitG: massG * (person.drinkingFreely ? 0.075 : 0.03),
    waterLoss95LimitG: massG * (person.drinkingFreely ? 0.05 : 0.03),
  };
}
