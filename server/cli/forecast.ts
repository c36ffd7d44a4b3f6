import type { Command } from 'commander';
import { clashMoves, type ClashMove } from '../rotation/forecast/clash-moves.ts';
import { forecast, type Forecast } from '../rotation/forecast/forecast.ts';
import { readQueue } from '../rotation/forecast/queue-input.ts';
import { answerQueue, type QueueAnswer } from '../rotation/forecast/queue.ts';
import { answered, refused, type ForecastAnswer, type ForecastRefusal } from '../rotation/forecast/refusal.ts';
import { readScenario } from '../rotation/forecast/scenario.ts';
import {
  answeredWith,
  parseJson,
  readInput,
  realStreams,
  refusedWith,
  tooLargeMessage,
  type CommandOutcome,
  type CommandStreams,
} from './json-command.ts';

export const inputBytesMax = 2_000_000;

/** Answers one question: a queue, or a scenario with the moves that would help. */
export function forecastCommand(input: string): CommandOutcome {
  if (Buffer.byteLength(input) > inputBytesMax) return tooLarge;
  const parsed = parse(input);
  const printed = parsed.ok ? answerTo(parsed.value) : parsed;
  if (!printed.ok) return refuse(printed.refusal);
  return answeredWith(printed.value);
}

function parse(input: string): ForecastAnswer<object> {
  const parsed = parseJson(input);
  if ('message' in parsed) return refused('forecast/not-understood', parsed.message);
  const { value } = parsed;
  if (typeof value === 'object' && value !== null && !Array.isArray(value)) return answered(value);
  return refused('forecast/not-understood', 'the input must be an object: a queue or a scenario');
}

function answerTo(value: object): ForecastAnswer<object> {
  if ('queue' in value) {
    const question = readQueue(value);
    return question.ok ? answered(printableQueue(answerQueue(question.value))) : question;
  }
  const scenario = readScenario(value);
  if (!scenario.ok) return scenario;
  return answered(printableForecast(forecast(scenario.value), clashMoves(scenario.value)));
}

const refuse = ({ code, message }: ForecastRefusal): CommandOutcome => refusedWith('forecast', `${message} (${code})`);
const tooLarge = refuse({ code: 'forecast/too-large', message: tooLargeMessage(inputBytesMax) });

const caution =
  'An aid, not a medical device. Chances from figures that are expected, not certain; the unit’s own rules and the people at the door decide.';

/** Chances to a thousandth, minutes to a tenth: what is worth reading; the full figures stay in the program. */
function printableForecast(found: Forecast, moves: readonly ClashMove[]): object {
  return rounded({ ...found, moves, caution }, placesOf) as object;
}

/** Seven places: a closed form is compared with. */
const printableQueue = (answer: QueueAnswer): object => rounded({ ...answer, caution }, () => 7) as object;

function placesOf(field: string): number {
  if (field === 'halfWidth95') return 2;
  return /^chance|^(lane|observer|either|overLimit|laneClashes|observerClashes|waitQuantile)$/i.test(field) ? 3 : 1;
}

function rounded(value: unknown, places: (field: string) => number, field = ''): unknown {
  if (typeof value === 'number') return Number(value.toFixed(places(field)));
  if (Array.isArray(value)) return value.map((one) => rounded(one, places, field));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, rounded(one, places, name)]));
}

/** Registers `forecast --input FILE|-`. */
export function addForecastCommand(program: Command, streams: CommandStreams = realStreams): void {
  program
    .command('forecast')
    .description('waits at lanes and observers in the next hours: JSON in, JSON out (docs/forecast.md)')
    .requiredOption('--input <file>', 'a JSON file with a scenario or a queue; - for standard input')
    .action(async ({ input }: { input: string }) => {
      streams.write(await runForecast(input, streams));
    });
}

async function runForecast(input: string, streams: CommandStreams): Promise<CommandOutcome> {
  const text = await readInput('forecast', input, streams, inputBytesMax, tooLarge);
  return typeof text === 'string' ? forecastCommand(text) : text;
}
