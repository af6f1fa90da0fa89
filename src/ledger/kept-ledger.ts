/** What a ledger looks like that was kept; an earlier version, or somebody else, may have written it. */
import * as z from 'zod/mini'
import { HOWS } from '../protocol/entry.ts'
import { amount, anyTime, count, map, mark, oneOf, only, optional } from '../protocol/parts.ts'
import { WHATS } from '../protocol/whats.ts'
import type { Ledger } from './apply.ts'
import type { Fold, PastCell } from './fold.ts'
import type { PlacedEntry } from './window.ts'

/** Names the shape of a kept ledger: one under another name is counted again from its entries. */
export const LEDGER_FORMAT = 'ledger 11'

const number = z.number()
const flag = z.boolean()

const line = map({ n: number, j: number, jj: number, v: number, vj: number, vv: number })

const pastCellShape = {
  type: optional(z.string()),
  sends: count,
  ended: oneOf(['failed', 'changed']),
  counted: flag,
  fittedAt: optional(number),
  lastAt: optional(number),
  endedAt: optional(number),
  fittedMillivolts: optional(amount),
  line: optional(line),
} satisfies Record<keyof PastCell, z.ZodMiniType>

const foldShape = {
  state: oneOf(['none', 'opened', 'closed']),
  since: optional(number),
  sinceUntil: optional(z.nullable(number)),
  openings: count,
  sends: count,
  sendsThrough: count,
  wordAt: optional(number),
  openedAt: optional(number),
  awaitsRest: flag,
  rested: flag,
  loneRestAt: optional(number),
  edge: optional(oneOf(['opened', 'closed'])),
  bySight: optional(only(true)),
  seenBy: optional(z.string()),
  unheardAt: optional(number),
  onTest: optional(map({ from: number, until: number })),
  faint: flag,
  silent: flag,
  spent: flag,
  low: flag,
  provenAt: optional(number),
  unheardOnWalk: optional(number),
  boots: optional(count),
  lowerBoots: optional(count),
  unheardBoots: optional(z.array(count)),
  sendsSinceBoots: count,
  millivolts: optional(amount),
  fittedMillivolts: optional(amount),
  line: optional(line),
  habit: optional(
    map({
      months: z.array(number).check(z.refine(months => months.length === 12)),
      from: optional(number),
      latest: z.array(number),
    }),
  ),
  story: optional(
    map({
      from: optional(number),
      months: z.array(map({ from: number, to: number, openings: number })),
      latest: z.array(z.array(z.nullable(z.union([number, only('unknown')])))),
    }),
  ),
  joins: optional(z.array(map({ at: number, milliseconds: amount }))),
  revision: optional(z.string()),
  countedSince: optional(number),
  cellType: optional(z.string()),
  past: z.array(map(pastCellShape)),
  last: optional(map({ at: anyTime, until: optional(anyTime), word: oneOf(WHATS), how: oneOf(HOWS) })),
  odd: optional(map({ count, text: z.string(), at: anyTime })),
  firstAt: optional(number),
  firstWordAt: optional(number),
} satisfies Record<keyof Fold, z.ZodMiniType>

const isMap = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** A map that is taken as it stands. */
export const part = z.unknown().check(z.refine(isMap))

/** A map, and each value in it. */
const each = (of: z.ZodMiniType) =>
  z.unknown().check(z.refine(value => isMap(value) && Object.values(value).every(one => of.safeParse(one).success)))

/** A kept ledger, its folds and what stands in its windows looked at so closely. */
export const ledgerOf = (fold: z.ZodMiniType, kept: z.ZodMiniType) =>
  map({
    v: only(1),
    since: optional(anyTime),
    count,
    // The register's takes its place before anything is counted.
    policy: each(part),
    marks: each(map({ base: fold, window: z.array(kept), fold, twinWith: optional(z.string()) })),
    recent: z.array(map({ mark, at: number, takeover: flag })),
  } satisfies Record<keyof Ledger, z.ZodMiniType>)

// An entry was sound when it was counted: to look at every one again would take half as long as counting them.
const whole = ledgerOf(
  map(foldShape),
  map({ n: count, entry: part } satisfies Record<keyof PlacedEntry, z.ZodMiniType>),
)

/** Whether a value is a ledger, with all that stands in its folds. */
export const isLedger = (value: unknown): value is Ledger => whole.safeParse(value).success
