/**
 * The steps that must happen in Redis without anybody in between, as scripts: Redis runs one at a time, and writes what one
 * did to its append-only file as a whole. Each touches only keys of one unit, which carry the unit as their {hash tag}.
 *
 * Appending: everything is checked before anything is written, because Redis does not undo what a script did before it
 * failed. KEYS: facts, reports. ARGV: expected, previous hash, genesis hash, how many facts; then hash and text of each fact;
 * then id and trace of each report. Answers like an AppendOutcome, as a list.
 */
export const appendScript = `
local expected, factCount = tonumber(ARGV[1]), tonumber(ARGV[4])
local firstReport = 5 + 2 * factCount
for i = firstReport, #ARGV, 2 do
  if redis.call('HEXISTS', KEYS[2], ARGV[i]) == 1 then return {'known-report', ARGV[i]} end
end
local number, hash = 0, ARGV[3]
local last = redis.call('XREVRANGE', KEYS[1], '+', '-', 'COUNT', 1)[1]
if last then
  number, hash = tonumber(string.match(last[1], '^%d+')), last[2][2]
end
if number ~= expected then return {'moved', number} end
if hash ~= ARGV[2] then return {'diverged'} end
for i = 0, factCount - 1 do
  local id = string.format('%.0f-0', expected + i + 1)
  redis.call('XADD', KEYS[1], id, 'hash', ARGV[5 + 2 * i], 'fact', ARGV[6 + 2 * i])
end
for i = firstReport, #ARGV, 2 do redis.call('HSET', KEYS[2], ARGV[i], ARGV[i + 1]) end
return {'appended'}
`;

/** Keeps a snapshot and drops all but the newest of its fold version. KEYS: snapshots. ARGV: version, number, text, kept. */
export const saveSnapshotScript = `
local prefix = ARGV[1] .. ':'
redis.call('HSET', KEYS[1], prefix .. ARGV[2], ARGV[3])
local numbers = {}
for _, field in ipairs(redis.call('HKEYS', KEYS[1])) do
  if string.sub(field, 1, #prefix) == prefix then table.insert(numbers, tonumber(string.sub(field, #prefix + 1))) end
end
table.sort(numbers, function(a, b) return a > b end)
for i = tonumber(ARGV[4]) + 1, #numbers do
  redis.call('HDEL', KEYS[1], prefix .. string.format('%.0f', numbers[i]))
end
return numbers[1]
`;

/** The newest snapshot of a fold version. KEYS: snapshots. ARGV: version. */
export const latestSnapshotScript = `
local prefix = ARGV[1] .. ':'
local newest = -1
for _, field in ipairs(redis.call('HKEYS', KEYS[1])) do
  if string.sub(field, 1, #prefix) == prefix then newest = math.max(newest, tonumber(string.sub(field, #prefix + 1))) end
end
if newest < 0 then return false end
return redis.call('HGET', KEYS[1], prefix .. string.format('%.0f', newest))
`;
