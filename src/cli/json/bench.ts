import * as z from 'zod/mini'
import { amount, anyTime, count, map, mark, oneOf, type Plain, time } from '../../protocol/parts.ts'
import { WHATS } from '../../protocol/whats.ts'
import { flag, list, optional, said, words } from './parts.ts'

export const CHECKS = [
  'first word',
  'topic',
  'payload',
  'QoS',
  'closing',
  'boots',
  'rest word',
  'retained',
  'client id',
  'quiet',
  'revision',
] as const

const seconds = said(z.number(), 'From the key press.')
const change = map({ was: amount, now: amount })

export const proveSchema = map({
  mark,
  power: oneOf(['bench', 'cell']),
  proved: flag,
  checks: list(map({ name: oneOf(CHECKS), result: oneOf(['passed', 'failed', 'not seen']), says: words })),
  causes: said(list(words), 'Likely causes of what failed, in the order to try them.'),
  joinMilliseconds: said(list(amount), 'First words after the key presses.'),
  sinceLast: said(
    optional(map({ at: anyTime, joinMilliseconds: optional(change), millivolts: optional(change) })),
    'What changed since the last proof.',
  ),
  lidNeedsTool: said(optional(flag), 'Of a coin cell: what was answered about its lid.'),
  kept: said(words, 'Where the result was kept, in a sentence.'),
  seen: map({
    openings: list(
      map({
        messages: list(
          map({
            seconds,
            topic: words,
            text: words,
            qos: said(z.union([z.literal(0), z.literal(1), z.literal(2)]), 'As the broker delivered it.'),
            retained: optional(flag),
            what: optional(oneOf(WHATS)),
            revision: optional(words),
            boots: optional(count),
          }),
        ),
        takenOverAt: said(optional(z.number()), 'When we came in under the contact’s own client id.'),
      }),
    ),
    kept: said(optional(z.nullable(words)), 'The word that the broker keeps; null: none. Absent: not looked at.'),
  }),
})
export type ProveJson = Plain<typeof proveSchema>

const step = map({
  mark,
  name: words,
  room: optional(words),
  at: optional(map({ side: words, floor: z.int(), along: optional(amount) })),
  power: oneOf(['cell', 'mains']),
  cost: said(amount, 'Sends that a test of this opening costs its cell.'),
  heardAt: optional(anyTime),
  failed: said(optional(words), 'Id of the entry by which somebody said that no word came.'),
  naturalAt: said(optional(anyTime), 'When it was opened in daily use since the last walk.'),
  leftOut: flag,
})

export const roundSchema = map({
  startedAt: time,
  done: flag,
  heard: list(step),
  leftOut: list(step),
  missing: said(list(step), 'Not heard, those not reached among them.'),
  notReached: list(step),
})
export type RoundJson = Plain<typeof roundSchema>
