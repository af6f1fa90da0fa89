import type { What } from './entry.ts'

/** What may be said by a person; a contact's words cannot. */
export const SAYABLE = [
  'seen-closed',
  'cell-fitted',
  'module-fitted',
  'flashed',
  'proved',
  'failed',
  'round',
  'note',
  'undone',
  'on-test',
] as const satisfies readonly What[]
export type Sayable = (typeof SAYABLE)[number]
