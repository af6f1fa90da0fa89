import { fittingJson, LONGEST } from '../protocol/fitting.ts'
import { map, only, optional, type Plain, text } from '../protocol/parts.ts'

const kindSchema = map({
  /** Of the cell, where the register or a person names one. */
  type: optional(text()),
  /** Name of the load; absent for phases of a person's own. */
  load: optional(text()),
  /** A count is known in the trade, at room temperature. */
  countKnown: optional(only(true)),
  /** They stand in the cold, all the year or in winter. */
  cold: optional(only(true)),
})

/** Cells that learn from each other: of one type and load, with a count from practice or all without, warm or all cold. */
export interface CellKind extends Plain<typeof kindSchema> {}

/** The `kind` of a cell's history, which says what it is. */
export const cellKind = (type: string | undefined, load: unknown, countKnown: boolean, cold: boolean): string =>
  JSON.stringify({
    type,
    ...(typeof load === 'string' ? { load } : { phases: load }),
    ...(countKnown && { countKnown }),
    ...(cold && { cold }),
  })

/** What a `kind` made here says; undefined for any other text. */
export const cellKindIn = (kind: string): CellKind | undefined => fittingJson(kindSchema, kind, LONGEST.register)
