import { networkInterfaces } from 'node:os';
import { isIPv6 } from 'node:net';

/** The addresses to type into a device: where this server listens, or every address of the machine when it listens on all. */
export function addressesOf(host: string, port: number): string[] {
  const everywhere = host === '0.0.0.0' || host === '::';
  const hosts = everywhere ? [...machineAddresses(), '127.0.0.1'] : [host];
  return hosts.map((one) => `http://${isIPv6(one) ? `[${one}]` : one}:${port}`);
}

function machineAddresses(): string[] {
  return Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter((one) => !one.internal && one.family === 'IPv4')
    .map((one) => one.address);
}
