import * as z from 'zod/mini'
import { anyTime, count, map, mark, only, type Plain, time } from '../../protocol/parts.ts'
import { bareReadingSchema } from '../../protocol/reading.ts'
import { flag, list, optional, said, words } from './parts.ts'

/** How far a keeper, or what it published, can be relied on. */
const keeperFields = {
  keeperAtWork: said(
    optional(flag),
    'Whether a keeper is at work in the folder, or says so at the broker; absent: it cannot be seen.',
  ),
  problem: said(optional(words), 'What is wrong with the keeper, as the keeper says.'),
  refused: said(optional(words), 'Why something that the keeper published may not have been handed over.'),
}
const readingsSchema = map({
  asOf: time,
  ...keeperFields,
  lastEntry: said(optional(anyTime), 'Time of the newest entry; absent: there is none.'),
  readings: list(bareReadingSchema),
  unpublished: said(optional(list(mark)), 'Openings of which the keeper has published nothing: they are not certain.'),
})
const sinceSchema = map({
  since: time,
  asOf: said(optional(time), 'Where the keeper was asked: what came later is not in it.'),
  ...keeperFields,
  unknown: said(optional(list(mark)), 'Openings of which no story came: whether they were opened is not known.'),
  opened: list(
    map({
      mark,
      name: words,
      openings: count,
      atLeast: said(
        optional(only(true)),
        'The story goes no further back: there may have been more, and earlier ones.',
      ),
      maybeAgain: said(
        optional(count),
        'Counted among these, but perhaps the message of another one once more; absent: of none that is known.',
      ),
      first: said(anyTime, 'At the latest.'),
      last: said(anyTime, 'At the latest.'),
      firstFrom: said(
        optional(anyTime),
        'It happened between this and `first`: it waited at the broker, or the clock was wrong.',
      ),
      lastFrom: said(optional(anyTime), 'As `firstFrom`, of `last`.'),
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
