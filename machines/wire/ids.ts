import { z } from 'zod';

// Ids are branded so that a room id can't be passed where a person id is meant. They are short on purpose: they appear in
// every fact, and a fact names people by id only (names live in the roster, outside the log).
const idPattern = /^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}$/;

const id = <Brand extends string>(what: string) =>
  z
    .string()
    .regex(
      idPattern,
      `${what}: 1 to 64 letters, digits, dots, colons, dashes or underscores, starting with a letter or digit`,
    )
    .brand<Brand>();

export const unitId = id<'UnitId'>('unit id');
export const personId = id<'PersonId'>('person id');
export const roomId = id<'RoomId'>('room id');
export const laneId = id<'LaneId'>('lane id');
export const deviceId = id<'DeviceId'>('device id');
export const reportId = id<'ReportId'>('report id');
export const entryId = id<'EntryId'>('entry id');
export const alertId = id<'AlertId'>('alert id');
export const procedureId = id<'ProcedureId'>('procedure id');
export const stepId = id<'StepId'>('step id');
export const pointId = id<'PointId'>('point id');
export const deviationId = id<'DeviationId'>('deviation id');
export const breachId = id<'BreachId'>('breach id');

export type UnitId = z.infer<typeof unitId>;
export type PersonId = z.infer<typeof personId>;
export type RoomId = z.infer<typeof roomId>;
export type LaneId = z.infer<typeof laneId>;
export type DeviceId = z.infer<typeof deviceId>;
export type ReportId = z.infer<typeof reportId>;
export type EntryId = z.infer<typeof entryId>;
export type AlertId = z.infer<typeof alertId>;
export type ProcedureId = z.infer<typeof procedureId>;
export type StepId = z.infer<typeof stepId>;
export type PointId = z.infer<typeof pointId>;
export type DeviationId = z.infer<typeof deviationId>;
export type BreachId = z.infer<typeof breachId>;
