/**
 * Moist air, globe and radiant temperature. ASHRAE Handbook Fundamentals (2017), chapter 1, for the moist air; ISO 7726 (from
 * memory) for the globe. Temperatures in °C, pressures in kPa.
 */
export const standardPressureKPa = 101.325;

const kelvinAtZero = 273.15;
/** Below the triple point the air is saturated over ice. */
const triplePointC = 0.01;

/** Pressure of saturated water vapour, kPa. */
export function saturationPressureKPa(temperatureC: number): number {
  const kelvin = temperatureC + kelvinAtZero;
  const logPascal = temperatureC <= triplePointC ? logPressureOverIce(kelvin) : logPressureOverWater(kelvin);
  return Math.exp(logPascal) / 1000;
}

function logPressureOverIce(kelvin: number): number {
  const polynomial = -9.677843e-3 + kelvin * (6.2215701e-7 + kelvin * (2.0747825e-9 - 9.484024e-13 * kelvin));
  return -5.6745359e3 / kelvin + 6.3925247 + kelvin * polynomial + 4.1635019 * Math.log(kelvin);
}

function logPressureOverWater(kelvin: number): number {
  const polynomial = -4.8640239e-2 + kelvin * (4.1764768e-5 - 1.4452093e-8 * kelvin);
  return -5.8002206e3 / kelvin + 1.3914993 + kelvin * polynomial + 6.5459673 * Math.log(kelvin);
}

export function vapourPressureKPa(airTemperatureC: number, relativeHumidityPct: number): number {
  return (saturationPressureKPa(airTemperatureC) * relativeHumidityPct) / 100;
}

export function relativeHumidityPct(airTemperatureC: number, vapourKPa: number): number {
  return (vapourKPa / saturationPressureKPa(airTemperatureC)) * 100;
}

/** The temperature at which this air would be saturated, °C. Holds from −100 to 100 °C; dry air has none, and gets the lowest. */
export function dewPointC(vapourKPa: number): number {
  return rootBetween(-100, 100, (temperature) => saturationPressureKPa(temperature) - vapourKPa);
}

/** Thermodynamic (psychrometric) wet bulb, °C. */
export function wetBulbC(
  airTemperatureC: number,
  vapourKPa: number,
  pressureKPa: number = standardPressureKPa,
): number {
  const moisture = humidityRatio(vapourKPa, pressureKPa);
  const excess = (wetBulb: number) => humidityRatioAtWetBulb(airTemperatureC, wetBulb, pressureKPa) - moisture;
  return rootBetween(dewPointC(vapourKPa), airTemperatureC, excess);
}

function humidityRatio(vapourKPa: number, pressureKPa: number): number {
  return (0.621945 * vapourKPa) / (pressureKPa - vapourKPa);
}

/** ASHRAE equations 33 (water on the wick) and 35 (ice on it). */
function humidityRatioAtWetBulb(airC: number, wetBulb: number, pressureKPa: number): number {
  const saturated = humidityRatio(saturationPressureKPa(wetBulb), pressureKPa);
  return wetBulb >= 0
    ? ((2501 - 2.326 * wetBulb) * saturated - 1.006 * (airC - wetBulb)) / (2501 + 1.86 * airC - 4.186 * wetBulb)
    : ((2830 - 0.24 * wetBulb) * saturated - 1.006 * (airC - wetBulb)) / (2830 + 1.86 * airC - 2.1 * wetBulb);
}

/** Mean radiant temperature from a black globe of 150 mm, °C; NaN where no surroundings could give this globe reading. */
export function radiantFromGlobeC(globeC: number, airTemperatureC: number, airSpeedMs: number): number {
  const gained = globeConvection(globeC, airTemperatureC, airSpeedMs) / globeEmission;
  return Math.sqrt(Math.sqrt((globeC + 273) ** 4 + gained)) - 273;
}

/** The reading a black globe of 150 mm would come to among these walls, °C. */
export function globeFromRadiantC(radiantC: number, airTemperatureC: number, airSpeedMs: number): number {
  if (radiantC === airTemperatureC) return airTemperatureC;
  const excess = (globe: number) =>
    globeConvection(globe, airTemperatureC, airSpeedMs) + globeEmission * ((globe + 273) ** 4 - (radiantC + 273) ** 4);
  return rootBetween(Math.min(radiantC, airTemperatureC), Math.max(radiantC, airTemperatureC), excess);
}

const globeDiameterM = 0.15;
const globeEmission = 0.95 * 5.67e-8;

/** Heat the globe gives to the air, W/m²; the larger of natural and forced convection. */
function globeConvection(globeC: number, airC: number, airSpeedMs: number): number {
  const natural = 1.4 * (Math.abs(globeC - airC) / globeDiameterM) ** 0.25;
  const forced = (6.3 * airSpeedMs ** 0.6) / globeDiameterM ** 0.4;
  return Math.max(natural, forced) * (globeC - airC);
}

/** Where a rising function crosses zero between two bounds, to 1e-9; the nearer bound where it does not. */
function rootBetween(low: number, high: number, rising: (at: number) => number): number {
  let [from, to] = [low, high];
  if (!(rising(from) < 0)) return from;
  if (!(rising(to) > 0)) return to;
  for (let halving = 0; halving < 48 && to - from > 1e-9; halving += 1) {
    const middle = (from + to) / 2;
    if (rising(middle) > 0) to = middle;
    else from = middle;
  }
  return (from + to) / 2;
}

/**
 * Heat index, °C: Rothfusz's polynomial in SI units, for information only; no limit here depends on it, and it means nothing
 * below 27 °C.
 */
export function heatIndexC(airTemperatureC: number, relativeHumidity: number): number {
  const [t, h] = [airTemperatureC, relativeHumidity];
  const first = -8.784695 + 1.61139411 * t + 2.338549 * h - 0.14611605 * t * h;
  const second = -0.012308094 * t * t - 0.016424828 * h * h + 0.002211732 * t * t * h;
  return first + second + 0.00072546 * t * h * h - 0.000003582 * t * t * h * h;
}
