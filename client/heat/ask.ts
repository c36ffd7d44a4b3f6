import type { z } from 'zod';

/** What a question to the server came to. A screen says one calm sentence for each of the others, and never stays blank. */
export type Asked<Answer> =
  | { is: 'answered'; answer: Answer }
  /** The server understood and will not: its own sentence. */
  | { is: 'refused'; sentence: string }
  /** No server, no such question there, or an answer that this screen does not understand. */
  | { is: 'failed' };

/** The part of fetch that is used, so that a test can stand in for the network. */
export type Fetch = (path: string, init?: RequestInit) => Promise<Response>;

export async function ask<Answer>(
  schema: z.ZodType<Answer>,
  path: string,
  init: RequestInit = {},
  fetched: Fetch = fetch,
): Promise<Asked<Answer>> {
  try {
    const response = await fetched(path, init);
    const body: unknown = await response.json();
    if (!response.ok) return refusedOr(body, response.status);
    const read = schema.safeParse(body);
    return read.success ? { is: 'answered', answer: read.data } : { is: 'failed' };
  } catch {
    return { is: 'failed' };
  }
}

/** Only what was wrong with the question is worth its sentence: a page that is missing or a fault inside says nothing to a person. */
function refusedOr(body: unknown, status: number): Asked<never> {
  const sentence = status === 400 || status === 409 || status === 422 ? sentenceIn(body) : undefined;
  return sentence === undefined ? { is: 'failed' } : { is: 'refused', sentence };
}

function sentenceIn(body: unknown): string | undefined {
  if (typeof body !== 'object' || body === null || !('sentence' in body)) return undefined;
  return typeof body.sentence === 'string' ? body.sentence : undefined;
}
