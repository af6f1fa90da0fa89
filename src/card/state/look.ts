/** The last look round: what it lists, in the order in which it is walked. */
import { isSurelyShut } from '../../ledger/headline.ts'
import { alongSides } from '../../ledger/round.ts'
import { mayBeOpen, type Row } from './row.ts'

/** Marks. A list that a person has before them keeps every mark in its place until it is opened anew. */
export interface Look {
  /** What may be open: the highest floor first, and round the house on each. */
  readonly open: readonly string[]
  /** Not heard open, and not known to be shut. */
  readonly uncertain: readonly string[]
}

/** What there is to look at as things stand. */
export function lookOver(rows: readonly Row[], sides: readonly string[]): Look {
  const along = alongSides(sides)
  const floor = ({ opening }: Row): number => opening.at?.floor ?? -1
  const open = rows
    .filter(mayBeOpen)
    .sort((a, b) => floor(b) - floor(a) || along(a.opening, b.opening))
    .map(markOf)
  return { open, uncertain: rows.filter(row => !mayBeOpen(row) && !isSurelyShut(row.reading)).map(markOf) }
}

const markOf = ({ opening }: Row): string => opening.mark
