import type { z } from 'zod';
import {
  adoptionBytesMax,
  beat,
  catchUp,
  hello,
  messageBytesMax,
  type Beat,
  type CatchUp,
  type Hello,
} from '../../machines/wire/messages.ts';
import type { Refusal, RefusalCode } from '../../machines/wire/refusal.ts';
import {
  reportEnvelope,
  reportKinds,
  reportSchemas,
  wireVersion,
  type Report,
  type ReportKind,
} from '../../machines/wire/report.ts';

/**
 * What a device sent, checked once, here, at the edge: behind this everything has its type. A message that is not understood
 * is answered with the field that is wrong, never with a closed connection.
 */
export type Read<Message> = { message: Message } | { refusal: Refusal };

export function readReport(raw: unknown): Read<Report> {
  const early = notAMessage(raw, bytesMostOf(raw)) ?? wrongVersion(raw);
  if (early) return early;
  const envelope = reportEnvelope.safeParse(raw);
  if (!envelope.success) return notUnderstood(envelope.error);
  const kind = reportKinds.find((known) => known === envelope.data.kind);
  if (!kind)
    return refusal(
      'message/unknown-kind',
      `This server knows no report "${envelope.data.kind.slice(0, 80)}". Reload the page, so that both are the same version.`,
    );
  const report = reportSchemas[kind].safeParse(raw);
  return report.success ? { message: report.data as Report } : notUnderstood(report.error);
}

export function readHello(raw: unknown): Read<Hello> {
  return notAMessage(raw) ?? wrongVersion(raw) ?? parse(hello, raw);
}

export const readBeat = (raw: unknown): Read<Beat> => notAMessage(raw) ?? parse(beat, raw);
export const readCatchUp = (raw: unknown): Read<CatchUp> => notAMessage(raw) ?? parse(catchUp, raw);

function parse<Schema extends z.ZodType>(schema: Schema, raw: unknown): Read<z.output<Schema>> {
  const parsed = schema.safeParse(raw);
  return parsed.success ? { message: parsed.data } : notUnderstood(parsed.error);
}

function bytesMostOf(raw: unknown): number {
  const { kind } = (raw ?? {}) as { kind?: unknown };
  return kind === ('adopt-procedure' satisfies ReportKind) ? adoptionBytesMax : messageBytesMax;
}

function notAMessage(raw: unknown, bytesMost = messageBytesMax): { refusal: Refusal } | undefined {
  if (typeof raw !== 'object' || raw === null || Array.isArray(raw))
    return refusal(
      'message/not-understood',
      'A message is one JSON object. Reload the page; if that does not help, tell the lead.',
    );
  const bytes = bytesOf(raw);
  if (bytes <= bytesMost) return undefined;
  return refusal(
    'message/too-large',
    `The message has ${Number.isFinite(bytes) ? bytes : 'too many'} bytes; at most ${bytesMost} are taken. Shorten the text and send it again.`,
  );
}

/** What nests too deeply to be written down is too large as well. */
function bytesOf(raw: object): number {
  try {
    return Buffer.byteLength(JSON.stringify(raw));
  } catch {
    return Infinity;
  }
}

function wrongVersion(raw: unknown): { refusal: Refusal } | undefined {
  const { v } = raw as { v?: unknown };
  if (v === wireVersion) return undefined;
  const theirs = typeof v === 'number' ? `version ${v}` : 'no version';
  return refusal(
    'message/wrong-version',
    `This page speaks ${theirs} of the conversation, the server version ${wireVersion}. Reload the page.`,
  );
}

function notUnderstood(error: z.ZodError): { refusal: Refusal } {
  const issue = error.issues[0];
  const field = issue?.path.map(String).join('.') || 'the message';
  const what = `${field}: ${issue?.message ?? 'not as expected'}`.slice(0, 300);
  return refusal(
    'message/not-understood',
    `The message was not understood (${what}). Reload the page, then do it again.`,
  );
}

const refusal = (code: RefusalCode, sentence: string): { refusal: Refusal } => ({ refusal: { code, sentence } });
