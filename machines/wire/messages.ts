import { z } from 'zod';
import { fact, type Fact } from './fact.ts';
import { deviceId, personId, unitId } from './ids.ts';
import { refusalCodes } from './refusal.ts';
import { wireVersion, type Report } from './report.ts';
import { roles } from './rights.ts';

/**
 * The conversation between a device and the server, over one socket. A device says hello with the number of the last fact it
 * has; the server answers with what is missing (or a whole state, when that is less) and from then on sends every fact. The
 * number in each message shows a gap; a device that sees one asks again from its own number. Nothing relies on the transport
 * remembering anything.
 */

export const hello = z.strictObject({
  v: z.literal(wireVersion),
  unit: unitId,
  device: deviceId,
  role: z.enum(roles),
  person: personId.optional(),
  /** Number of the last fact this device has folded; 0 when it has nothing. */
  after: z.int().min(0),
});

export const beat = z.strictObject({
  /** The device's own reading when it sent this, in milliseconds; comes back so that it can reckon the round trip. */
  sentAt: z.number(),
});

export const catchUp = z.strictObject({ after: z.int().min(0) });

export const refusal = z.strictObject({ code: z.enum(refusalCodes), sentence: z.string() });

/** Answer to a report. */
export const reportAnswer = z.union([
  z.strictObject({
    accepted: z.literal(true),
    /** The numbers of the facts it led to; empty when it changed nothing. */
    numbers: z.array(z.int().min(1)),
    /** The report was in the log before; nothing was written again. */
    repeat: z.literal(true).optional(),
    notice: refusal.optional(),
  }),
  z.strictObject({
    accepted: z.literal(false),
    ...refusal.shape,
    /** The number of the fact under which the refused report is kept for review. */
    keptAs: z.int().min(1).optional(),
    /** True when the same report may be accepted later (the log is out of reach), so the device keeps it. */
    retry: z.literal(true).optional(),
  }),
]);

/** Facts a device is missing, or the folded state when there are more of them than a state is worth. */
export const missing = z.union([
  z.strictObject({ facts: z.array(fact), head: z.int().min(0) }),
  z.strictObject({ state: z.unknown(), head: z.int().min(0) }),
]);

export const helloAnswer = z.union([
  z.strictObject({
    welcome: z.literal(true),
    serverTime: z.number(),
    /** True in a drill: the people and the shift are invented. */
    drill: z.boolean(),
    /** Changes when the server starts anew. */
    server: z.string(),
    missing,
  }),
  z.strictObject({ welcome: z.literal(false), ...refusal.shape }),
]);

export const beatAnswer = z.strictObject({ sentAt: z.number(), serverTime: z.number(), head: z.int().min(0) });

/** Sent every second, unasked: a device that misses it for five seconds says so. */
export const pulse = z.strictObject({ serverTime: z.number(), head: z.int().min(0) });
export const factsMessage = z.strictObject({ facts: z.array(fact).min(1) });
/** Sent before the server closes a socket on purpose. */
export const farewell = refusal;

export type Hello = z.infer<typeof hello>;
export type Beat = z.infer<typeof beat>;
export type CatchUp = z.infer<typeof catchUp>;
export type ReportAnswer = z.infer<typeof reportAnswer>;
export type Missing = { facts: Fact[]; head: number } | { state: unknown; head: number };
export type HelloAnswer =
  | { welcome: true; serverTime: number; drill: boolean; server: string; missing: Missing }
  | ({ welcome: false } & z.infer<typeof refusal>);
export type BeatAnswer = z.infer<typeof beatAnswer>;
export type Pulse = z.infer<typeof pulse>;
export type FactsMessage = { facts: Fact[] };

/** socket.io events from a device to the server. Each has an answer (acknowledgement). */
export interface ToServer {
  hello: (message: Hello, answer: (answer: HelloAnswer) => void) => void;
  report: (message: Report, answer: (answer: ReportAnswer) => void) => void;
  beat: (message: Beat, answer: (answer: BeatAnswer) => void) => void;
  'catch-up': (message: CatchUp, answer: (answer: Missing) => void) => void;
  /** Signs the device off; without it, going away is silence. */
  leave: (message: Record<string, never>, answer: (answer: { left: true }) => void) => void;
}

/** socket.io events from the server to a device. */
export interface ToDevice {
  facts: (message: FactsMessage) => void;
  pulse: (message: Pulse) => void;
  farewell: (message: z.infer<typeof farewell>) => void;
}

export const pulseEveryMs = 1000;
/** A device that has not heard the server for this long says NOT LIVE. */
export const notLiveAfterMs = 5000;
export const beatEveryMs = 5000;
/** Larger messages are refused at the edge. */
export const messageBytesMax = 65_536;
/** A procedure is longer than anything else that is said; the longest shipped one has 33,000 bytes. */
export const procedureBytesMax = 131_072;
/** The message that adopts one: the procedure with its envelope and a reason. */
export const adoptionBytesMax = procedureBytesMax + 2_048;
export const reportsPerSecondMax = 40;
