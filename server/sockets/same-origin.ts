import type { IncomingHttpHeaders } from 'node:http';

/**
 * A browser says which page opens a socket. Only pages of this server may: otherwise any web page somebody happens to visit
 * on a unit's machine could speak to the unit. What is no browser sends no origin and is let in, as it may claim anything.
 */
export function isSameOrigin({ origin, host }: Pick<IncomingHttpHeaders, 'origin' | 'host'>): boolean {
  if (origin === undefined) return true;
  return URL.canParse(origin) && new URL(origin).host === host;
}
