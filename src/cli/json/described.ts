/** What else is described beside the register: a line of a tally, one of a log, and what each command prints with `--json`. */
export const DESCRIBED = [
  'entry',
  'log',
  'assign',
  'budget',
  'check',
  'forecast',
  'parts',
  'prove',
  'round',
  'suit',
  'tally',
] as const
export type Described = (typeof DESCRIBED)[number]
