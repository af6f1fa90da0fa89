/** What this tablet kept, from its text. An earlier version of the card, or somebody else on the page, may have written it. */
import * as z from 'zod/mini'
import type { Round } from '../../ledger/round.ts'
import { type Entry, soundEntry } from '../../protocol/entry.ts'
import { fittingJson, LONGEST } from '../../protocol/fitting.ts'
import { amount, anyTime, count, map, mark, oneOf, optional, text, upTo } from '../../protocol/parts.ts'
import { parseJson } from '../../text/parse-json.ts'
import type { Credentials } from '../world.ts'
import type { KeptRound } from './walk.ts'

const credentialsSchema: z.ZodMiniType<Credentials> = map({ user: z.string(), password: z.string() })

const walkSchema: z.ZodMiniType<Round> = map({
  startedAt: anyTime,
  steps: z.array(
    map({
      mark,
      name: text(),
      room: optional(text()),
      at: optional(map({ side: text(), floor: count, along: optional(upTo(1)) })),
      power: oneOf(['cell', 'mains']),
      cost: amount,
      heardAt: optional(anyTime),
      failed: optional(text()),
      naturalAt: optional(anyTime),
      leftOut: z.boolean(),
    }),
  ),
})

const marks = z.array(mark)
const reportSchema: z.ZodMiniType<KeptRound> = map({
  at: anyTime,
  heard: marks,
  leftOut: marks,
  missing: marks,
  failed: optional(marks),
  notReached: optional(marks),
})

const topicsSchema = z.array(z.string())

/** Each reads a text that was kept; undefined where none was, or where it does not fit. */
const reader =
  <T>(schema: z.ZodMiniType<T>) =>
  (text: string | undefined): T | undefined =>
    fittingJson(schema, text ?? '', LONGEST.register)

export const credentialsIn = reader(credentialsSchema)
export const walkIn = reader(walkSchema)
export const reportIn = reader(reportSchema)
export const topicsIn: (text: string | undefined) => readonly string[] | undefined = reader(topicsSchema)

/** Entries that were put by; those that cannot count are left out. */
export function entriesIn(text: string | undefined): readonly Entry[] {
  const list = parseJson(text ?? '')
  return Array.isArray(list) ? list.flatMap(each => soundEntry(each) ?? []) : []
}
