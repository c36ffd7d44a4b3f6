import type { ReportKind } from './report.ts';

/** What a device is for. A role belongs to a device and the person at it; a person may hold several, one at a time. */
export const roles = ['coordinator', 'observer', 'safety-officer', 'lead', 'wall'] as const;
export type Role = (typeof roles)[number];

/**
 * The one table of who may send what. Leaving and help are everybody's who has hands on a screen; letting somebody past a
 * rule is the safety officer's alone; what a unit goes by is the lead's; a wall screen only shows.
 */
const observerOnly: readonly Role[] = ['observer'];
const coordinatorOnly: readonly Role[] = ['coordinator'];
const officerOnly: readonly Role[] = ['safety-officer'];
const everyHand: readonly Role[] = ['coordinator', 'observer', 'safety-officer'];

export const rights: Readonly<Record<ReportKind, readonly Role[]>> = {
  'start-duty': observerOnly,
  'end-duty': observerOnly,
  'start-break': observerOnly,
  'end-break': observerOnly,
  'take-worker': observerOnly,
  'release-worker': observerOnly,
  'call-worker': coordinatorOnly,
  'cancel-entry': ['coordinator', 'observer'],
  'assign-observer': coordinatorOnly,
  'record-screening': observerOnly,
  'release-hold': officerOnly,
  'confirm-kit-item': observerOnly,
  'verify-step': observerOnly,
  'override-step': officerOnly,
  'note-deviation': observerOnly,
  'verify-corrective': observerOnly,
  'correct-deviation': observerOnly,
  'pass-inspection': observerOnly,
  'fail-inspection': observerOnly,
  'enter-room': observerOnly,
  'call-out': ['coordinator', 'observer', 'safety-officer'],
  'plan-call-out': coordinatorOnly,
  'adopt-rotation': coordinatorOnly,
  'drop-rotation': coordinatorOnly,
  'leave-room': observerOnly,
  'enter-lane': observerOnly,
  'declare-emergency': everyHand,
  'declare-breach': everyHand,
  'clear-breach': officerOnly,
  'record-climate': ['coordinator'],
  'set-work': ['coordinator', 'observer'],
  'record-check': observerOnly,
  'record-post-check': observerOnly,
  'stand-down': ['coordinator', 'safety-officer'],
  'lift-stand-down': officerOnly,
  'allow-again': officerOnly,
  'hold-lane': coordinatorOnly,
  'release-lane-hold': coordinatorOnly,
  'clear-lane': ['coordinator', 'observer'],
  'close-lane': coordinatorOnly,
  'reopen-lane': coordinatorOnly,
  'tell-alert': everyHand,
  'acknowledge-alert': everyHand,
  'clear-alert': officerOnly,
  'close-review': officerOnly,
  'adopt-procedure': ['lead'],
};

export const maySend = (role: Role, kind: ReportKind): boolean => rights[kind].includes(role);
