import type { Entry } from '../../machines/worker/worker-machine.ts';

/** The spans of an entry so far: where its time went. The last one is still running when it has no end. */
export type SpanName = 'pre-check' | 'door' | 'room' | 'leaving' | 'threshold' | 'lane' | 'post-check';

export interface EntrySpan {
  name: SpanName;
  from: number;
  to: number | undefined;
}

export function spansOf(entry: Entry): EntrySpan[] {
  const { calledAt, donnedAt, insideAt, calledOutAt, leftRoomAt, laneAt, doffedAt } = entry;
  const spans: [SpanName, number | undefined, number | undefined][] = [
    ['pre-check', calledAt, donnedAt],
    ['door', donnedAt, insideAt ?? leftRoomAt],
    ['room', insideAt, leftRoomAt],
    ['leaving', calledOutAt, leftRoomAt],
    ['threshold', leftRoomAt, laneAt],
    ['lane', laneAt, doffedAt],
    ['post-check', doffedAt, undefined],
  ];
  return spans.flatMap(([name, from, to]) => (from === undefined ? [] : [{ name, from, to }]));
}
