import type { DeviceId, UnitId } from '../../machines/wire/ids.ts';
import { RedisConnection, type RedisSettings } from '../log/redis-connection.ts';
import type { Presence } from './presence.ts';

/**
 * Presence shared by several servers: one hash per unit, device → when. On a connection of its own, so that heartbeats never
 * queue in front of an append.
 */
export async function openRedisPresence(settings: RedisSettings): Promise<RedisPresence> {
  return new RedisPresence(await RedisConnection.open(settings));
}

/** In one step, because two servers may have heard the same device. KEYS: heard. ARGV: device, when. */
const heardScript = `
local before = tonumber(redis.call('HGET', KEYS[1], ARGV[1]))
if not before or before < tonumber(ARGV[2]) then redis.call('HSET', KEYS[1], ARGV[1], ARGV[2]) end
`;

export class RedisPresence implements Presence {
  private readonly connection: RedisConnection;

  constructor(connection: RedisConnection) {
    this.connection = connection;
  }

  async heard(unit: UnitId, device: DeviceId, atMs: number): Promise<void> {
    const keys = [this.connection.key(unit, 'heard')];
    await this.connection.ask((client) => client.eval(heardScript, { keys, arguments: [device, String(atMs)] }));
  }

  async lastHeard(unit: UnitId): Promise<ReadonlyMap<DeviceId, number>> {
    const heard = await this.connection.ask((client) => client.hGetAll(this.connection.key(unit, 'heard')));
    return new Map(Object.entries(heard).map(([device, at]) => [device as DeviceId, Number(at)]));
  }

  async forget(unit: UnitId, device: DeviceId): Promise<void> {
    await this.connection.ask((client) => client.hDel(this.connection.key(unit, 'heard'), device));
  }

  close(): Promise<void> {
    return this.connection.close();
  }
}
