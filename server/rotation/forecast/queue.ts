import { erlangC, meanWaitInServices, pollaczekKhinchine } from './erlang-c.ts';
import { emptyFloor, newPlay, stageNumbers, type Play } from './floor.ts';
import { normalQuantile } from './normal.ts';
import { fractionOf, philox } from './philox.ts';
import { playRun } from './play.ts';
import type { QueueQuestion } from './queue-input.ts';
import type { LogNormal } from './spread.ts';

/**
 * The engine as a plain queue: every customer is a person on the way to the threshold, every server a lane without turnover, and
 * nobody needs an observer. So it is the lane service of the forecast that is measured here, and can be held against closed
 * forms.
 */
export interface QueueFigures {
  probabilityOfWait: number;
  /** Over all customers, those who do not wait included. */
  meanWaitHours: number;
  /** Those in service not counted. */
  meanQueueLength: number;
}

export interface QueueAnswer {
  /** null: no closed form is known. */
  closedForm: QueueFigures | null;
  simulated: QueueFigures & { halfWidth95: QueueFigures };
  batches: number;
  customersPerBatch: number;
  /** Dropped at the start of each batch, which begins with an empty queue. */
  warmUpCustomers: number;
  /** Said when the load is so close to the servers that the warm-up had to be cut short. */
  note?: string;
}

/** Service times by their kind; the log-normal one is what the forecast draws doffing times from. Mean 1. */
export type ServiceKind = 'exponential' | 'deterministic' | { logNormalSigma: number };
/** `customersMost`: per batch, where less than the usual size will do. */
type QueueProblem = Omit<QueueQuestion, 'service'> & { service: ServiceKind; customersMost?: number };

export function answerQueue(question: QueueProblem): QueueAnswer {
  const size = batchSize(question);
  const play = queuePlay(size.warmUp + size.counted, question.servers);
  const batches = Array.from({ length: question.runs }, (_, batch) => playBatch(play, question, size.warmUp, batch));
  const each = (name: keyof QueueFigures) => batches.map((one) => one[name]);
  const over = (figureOf: (values: readonly number[]) => number): QueueFigures => ({
    probabilityOfWait: figureOf(each('probabilityOfWait')),
    meanWaitHours: figureOf(each('meanWaitHours')),
    meanQueueLength: figureOf(each('meanQueueLength')),
  });
  return {
    closedForm: closedForm(question),
    simulated: { ...over(meanOf), halfWidth95: over(halfWidth95) },
    batches: question.runs,
    customersPerBatch: 2 * size.counted,
    warmUpCustomers: 2 * size.warmUp,
    ...(size.isCut && {
      note: 'The load is so close to the servers that the warm-up is short: waits may come out too low.',
    }),
  };
}

function closedForm({ arrivalsPerHour, servicesPerHour, servers, service }: QueueProblem): QueueFigures | null {
  const load = arrivalsPerHour / servicesPerHour;
  if (service !== 'exponential' && servers > 1) return null;
  const services =
    service === 'exponential'
      ? meanWaitInServices(load, servers)
      : pollaczekKhinchine(load, service === 'deterministic' ? 0 : variationOf(service.logNormalSigma));
  const meanWaitHours = services / servicesPerHour;
  return {
    // With one server that is the share of time it is busy, whatever the service times are.
    probabilityOfWait: servers === 1 ? load : erlangC(load, servers),
    meanWaitHours,
    // Little's law.
    meanQueueLength: arrivalsPerHour * meanWaitHours,
  };
}

/** The coefficient of variation of a log-normal time. */
export const variationOf = (sigma: number): number => Math.sqrt(Math.expm1(sigma * sigma));

interface BatchSize {
  warmUp: number;
  counted: number;
  isCut: boolean;
}

/** Of each of the two plays of a batch. */
const countedLeast = 15_000;
const countedMost = 50_000;
const warmUpMost = 30_000;
/** All batches together: some seconds on a small machine. */
const allCustomersMost = 2_000_000;

/**
 * The queue forgets its empty start at the rate μ(√c − √a)² (the relaxation time of M/M/c; Cohen, "The single server queue",
 * from memory): the warm-up is eight of those times and twelve service times, and at least as much again is counted.
 */
function batchSize({ arrivalsPerHour, servicesPerHour, servers, runs, customersMost }: QueueProblem): BatchSize {
  const load = arrivalsPerHour / servicesPerHour;
  const relaxation = load / (Math.sqrt(servers) - Math.sqrt(load)) ** 2;
  const most = Math.min(customersMost ?? Infinity, Math.floor(allCustomersMost / runs));
  const wanted = Math.ceil(8 * relaxation + 12 * load) + 100;
  const warmUp = Math.min(wanted, warmUpMost, Math.floor(most / 2));
  const counted = Math.min(countedMost, most - warmUp, Math.max(countedLeast, 4 * warmUp));
  return { warmUp, counted, isCut: warmUp < wanted };
}

/**
 * Each batch is played twice, with its luck and with the opposite luck (antithetic variates: u and 1 − u; Hammersley and Morton
 * 1956, from memory), and the mean of both counts: errors of the drawn rates cancel, and the batches stay independent.
 */
function playBatch(play: Play, problem: QueueProblem, warmUp: number, batch: number): QueueFigures {
  const [lucky, unlucky] = [false, true].map((isOpposite) => {
    drawCustomers(play, problem, batch, isOpposite);
    playRun(play);
    return figuresOf(play, warmUp);
  }) as [QueueFigures, QueueFigures];
  const between = (name: keyof QueueFigures) => (lucky[name] + unlucky[name]) / 2;
  return {
    probabilityOfWait: between('probabilityOfWait'),
    meanWaitHours: between('meanWaitHours'),
    meanQueueLength: between('meanQueueLength'),
  };
}

function queuePlay(customers: number, servers: number): Play {
  const floor = emptyFloor(customers, servers, 0, 0);
  floor.isWatched = false;
  floor.isStream = true;
  floor.stage.fill(stageNumbers.leaving);
  return newPlay(floor);
}

const words = new Uint32Array(4);

/** Times in hours. Keyed by seed, batch and customer; one word for the gap before a customer, one for their service. */
function drawCustomers(play: Play, problem: QueueProblem, batch: number, isOpposite: boolean): void {
  const luck = (word: number) => (isOpposite ? 1 - fractionOf(word) : fractionOf(word));
  const { seed, arrivalsPerHour, servicesPerHour, service } = problem;
  let comes = 0;
  for (let customer = 0; customer < play.floor.people; customer += 1) {
    philox(words, batch, customer, 0, 0x71756575, seed >>> 0, Math.floor(seed / 4_294_967_296) >>> 0);
    comes += -Math.log(luck(words[0]!)) / arrivalsPerHour;
    play.leaving[customer] = comes;
    play.doffing[customer] = serviceTime(service, luck(words[1]!)) / servicesPerHour;
  }
}

function serviceTime(service: ServiceKind, fraction: number): number {
  if (service === 'exponential') return -Math.log(fraction);
  if (service === 'deterministic') return 1;
  const { median, sigma }: LogNormal = {
    median: Math.exp(-(service.logNormalSigma ** 2) / 2),
    sigma: service.logNormalSigma,
  };
  return median * Math.exp(sigma * normalQuantile(fraction));
}

function figuresOf(play: Play, warmUp: number): QueueFigures {
  const { people } = play.floor;
  const [from, to] = [play.cameAt[warmUp]!, play.cameAt[people - 1]!];
  let [waited, waitSum, queueHours] = [0, 0, 0];
  for (let customer = 0; customer < people; customer += 1) {
    const [came, began] = [play.cameAt[customer]!, play.beganAt[customer]!];
    // How long this one stood in the queue within the time that counts: the time average, not Little's law.
    queueHours += Math.max(0, Math.min(began, to) - Math.max(came, from));
    if (customer < warmUp) continue;
    waitSum += began - came;
    if (began > came) waited += 1;
  }
  const counted = people - warmUp;
  return {
    probabilityOfWait: waited / counted,
    meanWaitHours: waitSum / counted,
    meanQueueLength: queueHours / (to - from),
  };
}

const meanOf = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;

/** Half the width of the 95 % interval of the mean of independent batches. */
function halfWidth95(values: readonly number[]): number {
  const mean = meanOf(values);
  const squares = values.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  const error = Math.sqrt(squares / (values.length - 1) / values.length);
  return studentQuantile975(values.length - 1) * error;
}

/** Exact for one to four degrees of freedom (tables), else the expansion of Cornish and Fisher (from memory; within 0.3 %). */
export function studentQuantile975(freedom: number): number {
  const exact = [12.7062, 4.3027, 3.1824, 2.7764][freedom - 1];
  if (exact !== undefined) return exact;
  const z = 1.959963984540054;
  const [z3, z5, z7] = [z ** 3, z ** 5, z ** 7];
  return (
    z +
    (z3 + z) / (4 * freedom) +
    (5 * z5 + 16 * z3 + 3 * z) / (96 * freedom ** 2) +
    (3 * z7 + 19 * z5 + 17 * z3 - 15 * z) / (384 * freedom ** 3)
  );
}
