import type { Policy } from '../../src/protocol/policy.ts'

/** A contact on a coin cell that reports openings alone. */
export const POLICY: Policy = {
  reports: 'openings',
  power: 'cell',
  keepAliveSeconds: 4,
  bootSeconds: 1,
  bounceSeconds: 30,
  provenWithinDays: 180,
  takeAsClosedAfterMinutes: null,
  replaceBelow: 0.9,
}
