import type { IncomingMessage, ServerResponse } from 'node:http';
import helmet from 'helmet';

/**
 * What a page of this server may do: its own scripts, styles, fonts, workers and socket, and nothing from anywhere else.
 * Made for plain http on loopback and a unit's own network as well as behind TLS: nothing here turns http into https, and the
 * headers that browsers ignore over plain http are left out.
 */
export function securityHeaders() {
  return helmet({
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        'default-src': ["'self'"],
        'script-src': ["'self'"],
        'style-src': ["'self'"],
        // Widths of bars and the like are set on the element.
        'style-src-attr': ["'unsafe-inline'"],
        'font-src': ["'self'", 'data:'],
        'img-src': ["'self'", 'data:', 'blob:'],
        'connect-src': ["'self'", ownSocket],
        'worker-src': ["'self'", 'blob:'],
        'manifest-src': ["'self'"],
        'object-src': ["'none'"],
        'base-uri': ["'none'"],
        'form-action': ["'self'"],
        'frame-ancestors': ["'none'"],
      },
    },
    strictTransportSecurity: false,
    crossOriginOpenerPolicy: false,
    originAgentCluster: false,
  });
}

/** Older browsers don't count a websocket to the same host as 'self'. */
function ownSocket({ headers }: IncomingMessage, _response: ServerResponse): string {
  const host = headers.host ?? '';
  return /^[\w.:[\]-]{1,255}$/.test(host) ? `ws://${host} wss://${host}` : "'self'";
}
