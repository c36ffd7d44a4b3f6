import { fnv1a64 } from '../fnv1a.ts';
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

const shortened = (report: ReportId): string => fnv1a64(report).toString(36).padStart(13, '0');
