import type { BreachId, DeviationId, ReportId } from '../wire/ids.ts';

/**
 * Ids that a device may go on to speak of before the server has answered: they follow from the report alone, so a tablet without
 * network that notes a deviation and puts it right names the same one as the server will. A number of the log would not do: it is
 * another one when the tablet is back.
 *
 * A report id may have 64 characters, and so may the id of the worker whom an alert is about; both together would be too long for
 * the subject of an alert. Hence 64 bits of it, in 13 characters; ids of older logs, a letter and a number, are shorter.
 */
export const deviationIdOf = (report: ReportId): DeviationId => `D${shortened(report)}` as DeviationId;
export const breachIdOf = (report: ReportId): BreachId => `B${shortened(report)}` as BreachId;

// FNV-1a, 64 bits: offset basis and prime as its authors publish them (from memory). Told apart is all it has to be.
const offsetBasis = 0xcbf29ce484222325n;
const prime = 0x100000001b3n;

function shortened(text: string): string {
  let hash = offsetBasis;
  for (const letter of text) hash = BigInt.asUintN(64, (hash ^ BigInt(letter.codePointAt(0) ?? 0)) * prime);
  return hash.toString(36).padStart(13, '0');
}
