import { z } from 'zod';
import { procedure } from './procedure.ts';

/**
 * The procedure format as JSON Schema 2020-12, for editors and other tools. What a shape cannot say (an unknown step, a circle, a
 * piece that never comes off) is told by `anteroom prove`.
 */
export function procedureJsonSchema(): Record<string, unknown> {
  const schema = z.toJSONSchema(procedure, { io: 'input', target: 'draft-2020-12' }) as Record<string, unknown>;
  return { ...schema, title: 'A procedure: donning, leaving the room, doffing' };
}
