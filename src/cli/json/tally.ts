import * as z from 'zod/mini'
import { anyTime, count, map, mark, only, type Plain, time } from '../../protocol/parts.ts'
import { bareReadingSchema } from '../../protocol/reading.ts'
import { flag, list, optional, said, words } from './parts.ts'

const readingsSchema = map({
  asOf: time,
  keeperAtWork: said(optional(flag), 'Of a keeper’s folder: whether one is at work there; absent: it cannot be seen.'),
  lastEntry: said(optional(anyTime), 'Time of the newest entry; absent: there is none.'),
  readings: list(bareReadingSchema),
})
const sinceSchema = map({
  since: time,
  opened: list(
    map({
      mark,
      name: words,
      openings: count,
      maybeAgain: said(
        optional(count),
        'Counted among these, but perhaps the message of another one once more; absent: the keeper was asked, whose story does not tell.',
      ),
      first: anyTime,
      last: anyTime,
      firstNotBefore: said(
        optional(only(true)),
        'It happened at some time after `first`: the clock was wrong, and nobody knows when.',
      ),
      lastNotBefore: said(optional(only(true)), 'As `firstNotBefore`, of `last`.'),
      unsure: said(flag, 'Some of them waited at the broker: they may have happened before that time.'),
    }),
  ),
})

/** The second is that of `--since`. */
export const tallySchema = z.union([readingsSchema, sinceSchema])
export type TallyJson = Plain<typeof tallySchema>
