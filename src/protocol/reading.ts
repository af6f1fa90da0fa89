import { HOWS, type How, WHATS, type What } from './entry.ts'
import { bagOf, count, fields, LONGEST, mark, number, oneOf, parse, time, words } from './parts.ts'

export const POSITIONS = ['open', 'opened', 'closed', 'taken-closed', 'no-word'] as const
export type Position = (typeof POSITIONS)[number]

export const DOUBTS = ['untested', 'faint', 'twin', 'low', 'spent', 'silent', 'reflash'] as const
export type Doubt = (typeof DOUBTS)[number]

/** What is left in a cell, in openings, and what that rests on. */
export interface Left {
  readonly p05: number
  readonly p50: number
  readonly p95: number
  /** Chance that the next opening gets through, 0 to 1. */
  readonly next: number
  /** `assumed`: no count is known in the trade for this kind of cell and load, only what the model assumes. */
  readonly restsOn: {
    readonly source: 'practice' | 'house'
    readonly assumed?: true
    readonly cells: number
    readonly deaths: number
  }
  /** Silent for longer than its own openings explain: true only if it still runs. */
  readonly ifRunning?: true
  /** The model leaves what is known of this cell: there may be more left. */
  readonly atLeast?: true
  /** It has sent before the count began, how often is a guess. */
  readonly sentBefore?: true
  /**
   * Only where the first word has become slower, which may be the cell: median of the newest three over the median of
   * the earliest five, and of how many words.
   */
  readonly slowJoin?: { readonly ratio: number; readonly words: number }
}

/** What may be said of one opening at `asOf`. */
export interface Reading {
  readonly mark: string
  readonly position: Position
  readonly since?: string
  readonly doubts: readonly Doubt[]
  readonly last?: { readonly at: string; readonly until?: string; readonly word: What; readonly how: How }
  /** Openings in all, and sends of the present cell. */
  readonly openings: number
  readonly sends: number
  /** Sends before this time are unknown. */
  readonly countedSince?: string
  readonly left?: Left
  readonly asOf: string
  /** Last time the contact itself proved that it works. */
  readonly provenAt?: string
  /** The other contact of a `twin` doubt. */
  readonly twinWith?: string
  /** Seen shut, but nobody listened for a time that ended then: an opening in between was not seen. */
  readonly unheard?: string
  /** Of a contact of both edges: `since` is when somebody saw it shut. */
  readonly seen?: true
  /** What was seen shut its contact had last called open, and has not corrected since. */
  readonly against?: true
  /** Unknown words on this opening's topic: how many, and the last one (capped). */
  readonly odd?: { readonly count: number; readonly text: string; readonly at: string }
}

/** A reading as published, with the opening's name. */
export interface ReadingNote extends Reading {
  readonly v: 1
  readonly name: string
}

function leftOf(value: unknown): Reading['left'] {
  const bag = bagOf(value)
  const rests = bagOf(bag?.restsOn)
  if (!bag || !rests) return undefined
  const [p05, p50, p95, next] = [number(bag.p05), number(bag.p50), number(bag.p95), number(bag.next)]
  const [source, cells, deaths] = [oneOf(['practice', 'house'], rests.source), count(rests.cells), count(rests.deaths)]
  if (p05 === undefined || p50 === undefined || p95 === undefined || next === undefined || next > 1) return undefined
  if (source === undefined || cells === undefined || deaths === undefined) return undefined
  const isTrue = (value: unknown): true | undefined => (value === true ? true : undefined)
  return fields<NonNullable<Reading['left']>>({
    p05,
    p50,
    p95,
    next,
    restsOn: fields({ source, assumed: isTrue(rests.assumed), cells, deaths }),
    ifRunning: isTrue(bag.ifRunning),
    atLeast: isTrue(bag.atLeast),
    sentBefore: isTrue(bag.sentBefore),
    slowJoin: slowJoinOf(bag.slowJoin),
  })
}

function slowJoinOf(value: unknown): NonNullable<Reading['left']>['slowJoin'] {
  const bag = bagOf(value)
  const [ratio, words] = [number(bag?.ratio), count(bag?.words)]
  return ratio === undefined || words === undefined ? undefined : { ratio, words }
}

function lastOf(value: unknown): Reading['last'] {
  const bag = bagOf(value)
  const [at, word, how] = [time(bag?.at), oneOf(WHATS, bag?.word), oneOf(HOWS, bag?.how)]
  if (!at || !word || !how) return undefined
  return fields<NonNullable<Reading['last']>>({ at, until: time(bag?.until), word, how })
}

function oddOf(value: unknown): Reading['odd'] {
  const bag = bagOf(value)
  const [many, text, at] = [count(bag?.count), words(bag?.text), time(bag?.at)]
  return many === undefined || text === undefined || !at ? undefined : { count: many, text, at }
}

/** A reading from `opening/<mark>`; undefined when what must be there is not, or does not fit. */
export function parseReading(text: string): ReadingNote | undefined {
  const bag = parse(text, LONGEST.other)
  if (!bag || !Array.isArray(bag.doubts)) return undefined
  const doubts = bag.doubts.slice(0, 32).flatMap(each => oneOf<Doubt>(DOUBTS, each) ?? [])
  const [whose, position, asOf] = [mark(bag.mark), oneOf(POSITIONS, bag.position), time(bag.asOf)]
  const [openings, sends] = [count(bag.openings), count(bag.sends)]
  if (!whose || !position || !asOf || openings === undefined || sends === undefined) return undefined
  return fields<ReadingNote>({
    v: 1,
    mark: whose,
    name: words(bag.name) ?? whose,
    position,
    since: time(bag.since),
    doubts: [...new Set(doubts)],
    last: lastOf(bag.last),
    openings,
    sends,
    countedSince: time(bag.countedSince),
    left: leftOf(bag.left),
    asOf,
    provenAt: time(bag.provenAt),
    twinWith: mark(bag.twinWith),
    unheard: time(bag.unheard),
    seen: bag.seen === true ? true : undefined,
    against: bag.against === true ? true : undefined,
    odd: oddOf(bag.odd),
  })
}
