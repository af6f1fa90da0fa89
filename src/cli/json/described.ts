/** What else is described beside the register: a line of a tally, and what each command prints with `--json`. */
export const DESCRIBED = [
  'entry',
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
