/**
 * Contact time of hand hygiene: how long the agent has been wet, as a difference of two server times, so that a page that
 * slept, or a device whose own clock is wrong, can never make it shorter than it was.
 */
export type ContactTime =
  | { is: 'not-started'; seconds: number }
  | { is: 'running'; secondsLeft: number; share: number }
  | { is: 'served'; tookSeconds: number };

const secondsMax = 86_400;

/** @param wetAt when the observer said that it was wet, server time in milliseconds; undefined before */
export function contactTime(contactSeconds: number, wetAt: number | undefined, now: number): ContactTime {
  if (wetAt === undefined) return { is: 'not-started', seconds: contactSeconds };
  const passed = Math.max(0, (now - wetAt) / 1000);
  if (passed >= contactSeconds) return { is: 'served', tookSeconds: Math.min(secondsMax, Math.floor(passed)) };
  return { is: 'running', secondsLeft: Math.ceil(contactSeconds - passed), share: passed / contactSeconds };
}
