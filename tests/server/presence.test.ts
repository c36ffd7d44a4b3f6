import { afterAll, beforeAll, expect, it } from 'vitest';
import { MemoryPresence } from '../../server/presence/memory-presence.ts';
import { openRedisPresence } from '../../server/presence/redis-presence.ts';
import type { DeviceId } from '../../machines/wire/ids.ts';
import { presenceContract } from '../contracts/presence-contract.ts';
import { unitNamed } from '../support/facts.ts';
import { RedisServer } from '../support/redis-server.ts';

let redis: RedisServer;
beforeAll(async () => {
  redis = await RedisServer.start();
});
afterAll(() => redis.stop());

presenceContract('memory', false, () => () => Promise.resolve(new MemoryPresence()));

let installations = 0;
presenceContract('Redis', true, () => {
  const prefix = `installation-${++installations}:`;
  return () => openRedisPresence({ url: redis.url, prefix });
});

it('rejects, and does not hang, while Redis is away', async () => {
  const server = await RedisServer.start();
  const presence = await openRedisPresence({ url: server.url });
  await server.stop();
  await expect(presence.heard(unitNamed('cedar'), 'tablet-1' as DeviceId, 1)).rejects.toMatchObject({
    code: 'store-failed',
  });
  await expect(presence.lastHeard(unitNamed('cedar'))).rejects.toMatchObject({ code: 'store-failed' });
  await presence.close();
});
