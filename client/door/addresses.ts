/**
 * Under which address another device can open this page. The server says where it listens; the address this page was opened
 * at is known to work, so it comes first whenever it leads to this computer from elsewhere too.
 */
export interface Reach {
  /** Addresses other devices can use, the best first. Empty when the server listens only on its own computer. */
  elsewhere: string[];
  /** The address on this computer alone. */
  here: string;
}

export function reachOf(addresses: readonly string[], openedAt: string): Reach {
  const all = [openedAt, ...addresses].map(tidy).filter((one) => one !== undefined);
  const elsewhere = [...new Set(all.filter((one) => !isLoopback(one)))];
  return { elsewhere, here: all.find(isLoopback) ?? openedAt };
}

/** The address as it is typed: no path, no closing slash. */
function tidy(address: string): string | undefined {
  return URL.canParse(address) ? new URL(address).origin : undefined;
}

/** RFC 6761 (localhost), RFC 1122 (127/8), RFC 4291 (::1). */
export function isLoopback(address: string): boolean {
  const { hostname } = new URL(address);
  return (
    hostname === 'localhost' ||
    hostname.endsWith('.localhost') ||
    hostname === '[::1]' ||
    /^127(\.\d{1,3}){3}$/.test(hostname)
  );
}
