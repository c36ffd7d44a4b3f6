/** Times as the safety page writes them: the wall clock to the second, because this is what is written down afterwards. */
const formats = new Map<string, Intl.DateTimeFormat>();

export function clockTime(at: number, timeZone?: string): string {
  const key = timeZone ?? '';
  const format =
    formats.get(key) ??
    new Intl.DateTimeFormat('en-GB', {
      hour: '2-digit',
      minute: '2-digit',
      second: '2-digit',
      hourCycle: 'h23',
      timeZone,
    });
  formats.set(key, format);
  return format.format(at);
}

/** A length of time in the two units that matter for it. */
export type Length = { in: 'seconds'; seconds: number } | { in: 'minutes'; minutes: number } | HoursAndMinutes;
interface HoursAndMinutes {
  in: 'hours';
  hours: number;
  minutes: number;
}

/** Seconds for the first two minutes, when escalation is counted in seconds; then whole minutes. */
export function lengthOf(ms: number): Length {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  if (seconds < 120) return { in: 'seconds', seconds };
  const minutes = Math.floor(seconds / 60);
  if (minutes < 120) return { in: 'minutes', minutes };
  return { in: 'hours', hours: Math.floor(minutes / 60), minutes: minutes % 60 };
}
