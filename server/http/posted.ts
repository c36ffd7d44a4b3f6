import express, { type Request, type RequestHandler } from 'express';
import { RequestError } from './request-error.ts';

/**
 * A small JSON body, as text first: the answer to one that will not do is ours and not the framework's. JSON only, because a
 * browser does not send that from a page of another site without asking this server first, which does not answer that.
 */
const type = 'application/json';

export function jsonBodyUpTo(bytesMax: number): RequestHandler<{ unit: string }> {
  const read = express.text({ type, limit: bytesMax, inflate: false });
  return (request, response, next) => {
    if (!request.is(type))
      return next(new RequestError(415, 'request/wrong-type', `Send it with the content type ${type}.`));
    read(request, response, (error?: unknown) => {
      const { status } = (error ?? {}) as { status?: unknown };
      next(status === 413 ? tooLarge(bytesMax) : error);
    });
  };
}

export const jsonBody = jsonBodyUpTo(16 * 1024);

const tooLarge = (bytesMax: number) =>
  new RequestError(413, 'request/too-large', `At most ${bytesMax / 1024} KB are read at once. Send less.`);

export function parsedJson({ body }: Request<{ unit: string }>): unknown {
  try {
    return JSON.parse(typeof body === 'string' ? body : '');
  } catch {
    throw new RequestError(400, 'request/not-json', 'This is not JSON. Check what was sent.');
  }
}
