import { createHash } from 'node:crypto';
import { expect, it } from 'vitest';
import { asyncApi } from '../../machines/wire/asyncapi.ts';
import { wireVersion } from '../../machines/wire/report.ts';
import { canonicalJson } from '../../server/log/hash-chain.ts';

/**
 * What each version of the wire looked like, as a hash over all its schemas (without their explanations) and the rights.
 * A page of one version and a server of another must not believe that they understand each other, so a change here without
 * a new `wireVersion` fails. Changed on purpose: raise `wireVersion` and add its hash; never edit the hash of a version
 * that was ever in use.
 */
const hashOfVersion: Readonly<Record<number, string>> = {
  1: '2829a2ca0ad2b95fab2a55792a13cfeb1a486d56dcb8d05fd65ec2e730c19e1f',
  2: '86b318c58c52d92c9ae6a605a89eff6e6fee2fe749fc5d0dc8dda239c5428f89',
};

it('a change of the wire needs a new version', () => {
  const { schemas } = asyncApi.components;
  const text = canonicalJson(withoutWords({ schemas, rights: asyncApi['x-rights'], channels: asyncApi.channels }));
  const hash = createHash('sha256').update(text).digest('hex');
  expect(hashOfVersion[wireVersion], `the wire of version ${wireVersion} now has the hash ${hash}`).toBe(hash);
});

it('notices the smallest change', () => {
  const changed = structuredClone(withoutWords(asyncApi.components.schemas)) as { beat: { properties: object } };
  const before = canonicalJson(changed);
  changed.beat.properties = { ...changed.beat.properties, extra: { type: 'number' } };
  expect(canonicalJson(changed)).not.toBe(before);
});

function withoutWords(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(withoutWords);
  if (typeof value !== 'object' || value === null) return value;
  const fields = Object.entries(value).filter(([key, inner]) => !(key === 'description' && typeof inner === 'string'));
  return Object.fromEntries(fields.map(([key, inner]) => [key, withoutWords(inner)]));
}
