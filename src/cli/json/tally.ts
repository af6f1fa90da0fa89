import * as z from 'zod/mini'
import { anyTime, count, map, mark, type Plain, time } from '../../protocol/parts.ts'
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
      first: anyTime,
      last: anyTime,
      unsure: said(flag, 'Some of them waited at the broker: they may have happened before that time.'),
    }),
  ),
})

/** The second is that of `--since`. */
export const tallySchema = z.union([readingsSchema, sinceSchema])
export type TallyJson = Plain<typeof tallySchema>
