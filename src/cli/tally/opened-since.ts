import { policyOf } from '../../house/policy.ts'
import { apply, applyAll, type Ledger, startLedger } from '../../ledger/apply.ts'
import { MOST_TOLD, type ToldOpening } from '../../ledger/story.ts'
import { takenBack, timeOf } from '../../ledger/window.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { StoryNote } from '../../protocol/story.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { DAY, iso } from '../../text/time.ts'
import type { Published } from '../broker/published.ts'
import type { Tally } from '../store/read-tally.ts'

/** One opening that opened, with its first and last time. */
export interface Opened {
  readonly mark: string
  readonly name: string
  readonly openings: number
  /** The story goes no further back: there may have been more, and earlier ones. */
  readonly atLeast?: true
  /** Counted among these, but perhaps the message of another one once more. */
  readonly maybeAgain?: number
  /** At the latest. */
  readonly first: string
  readonly last: string
  /** It happened between this and `first`, or `last`: it waited at the broker, or the keeper's clock was wrong. */
  readonly firstFrom?: string
  readonly lastFrom?: string
  /** It happened at some time after `first`, or `last`: the keeper's clock was wrong, and nobody knows when. */
  readonly firstNotBefore?: true
  readonly lastNotBefore?: true
  /** Some of these waited at the broker: they may have happened earlier than `since`. */
  readonly unsure: boolean
}

/** One opening; `until` where only the time in which it happened is known, and `unknown` where nobody knows its end. */
type When = readonly [at: string, until: string | null]

const UNKNOWN = 'unknown'
const whenOf = ([at, until]: ToldOpening): When => [
  iso(at),
  until === null ? null : until === UNKNOWN ? UNKNOWN : iso(until),
]

type Times = Omit<Opened, 'mark' | 'name' | 'openings' | 'atLeast' | 'maybeAgain' | 'unsure'>

function timesOf([firstAt, firstUntil]: When, [lastAt, lastUntil]: When): Times {
  const end = (at: string, until: string | null): string => (until === null || until === UNKNOWN ? at : until)
  const isSpan = (at: string, until: string | null): boolean => end(at, until) !== at
  return {
    first: end(firstAt, firstUntil),
    last: end(lastAt, lastUntil),
    ...(isSpan(firstAt, firstUntil) ? { firstFrom: firstAt } : {}),
    ...(isSpan(lastAt, lastUntil) ? { lastFrom: lastAt } : {}),
    ...(firstUntil === UNKNOWN ? { firstNotBefore: true } : {}),
    ...(lastUntil === UNKNOWN ? { lastNotBefore: true } : {}),
  }
}

/** A queued word may have begun before a time and ended after it: a month is as long as a session waits. */
const LONGEST_QUEUED = 31 * DAY

/**
 * What opened, most recent first. Bounces and repeats count as they do in the tally, and what was taken back does not.
 * @param since - milliseconds since the epoch
 */
export function openedSince(register: Register, tally: Pick<Tally, 'since'>, since: number): Opened[] {
  const policy = policyOf(register)
  const marks = new Map(register.openings.flatMap(({ mark, was }) => [mark, ...was].map(each => [each, mark] as const)))
  const byMark = new Map<string, Entry[]>()
  for (const entry of tally.since(since - LONGEST_QUEUED)) {
    const mark = marks.get(entry.mark)
    if (mark === undefined || entry.how === 'retained' || timeOf(entry) < since) continue
    const own = byMark.get(mark)
    if (own) own.push(entry)
    else byMark.set(mark, [entry])
  }
  return register.openings
    .flatMap(({ mark, name }): Opened[] => {
      const entries = byMark.get(mark) ?? []
      const start = startLedger({ [mark]: policy[mark]! }, iso(since))
      let ledger = start
      const counted: Entry[] = []
      let first: ToldOpening | undefined
      for (const entry of standing(applyAll(start, entries), mark, entries)) {
        const before = ledger
        ledger = apply(ledger, entry)
        if (openingsOf(ledger, mark) === openingsOf(before, mark)) continue
        counted.push(entry)
        first ??= toldOf(ledger, mark)[0]
      }
      const told = toldOf(ledger, mark)
      const last = told.at(-1)
      // As it is told in the end, where it still is.
      if (told.length === counted.length) first = told[0]
      if (!first || !last) return []
      return [
        {
          ...{ mark, name, openings: openingsOf(ledger, mark), ...timesOf(whenOf(first), whenOf(last)) },
          maybeAgain: counted.filter(({ maybeAgain }) => maybeAgain).length,
          unsure: counted.some(({ how, at }) => how === 'queued' && Date.parse(at) < since),
        },
      ]
    })
    .sort((a, b) => (a.last < b.last ? 1 : -1))
}

/**
 * What opened by the stories that a keeper has published, most recent first, and the marks of which that is not known:
 * their story did not come, or tells none of the openings that their reading counts.
 * @param since - milliseconds since the epoch
 */
export function openedByStories(
  register: Register,
  { readings, stories }: Pick<Published, 'readings' | 'stories'>,
  since: number,
): { readonly opened: Opened[]; readonly unknown: string[] } {
  const totals = new Map(readings.map(({ mark, openings }) => [mark, openings]))
  const opened: Opened[] = []
  const unknown: string[] = []
  for (const { mark, name } of register.openings) {
    const story = stories.get(mark)
    const told = story?.openings ?? []
    // Without a reading, a story of full length may have had more.
    const total = totals.get(mark) ?? (told.length >= MOST_TOLD ? Number.POSITIVE_INFINITY : told.length)
    if (!story || (told.length === 0 && total > 0)) {
      unknown.push(mark)
      continue
    }
    const counted = told.filter(([at, until]) => Date.parse(until ?? at) >= since)
    const [first, last] = [counted[0], counted.at(-1)]
    if (!first || !last) continue
    const whenIn = ([at, until = null]: typeof first): When => [at, story.notBefore?.includes(at) ? UNKNOWN : until]
    opened.push({
      ...{ mark, name, openings: counted.length, ...timesOf(whenIn(first), whenIn(last)) },
      ...(counted.length === told.length && total > told.length ? { atLeast: true as const } : {}),
      ...againIn(story, counted),
      unsure: counted.some(([at]) => Date.parse(at) < since),
    })
  }
  return { opened: opened.sort((a, b) => (a.last < b.last ? 1 : -1)), unknown }
}

/** How many of the openings of a story may be the message of another one once more. */
function againIn({ maybeAgain }: StoryNote, counted: StoryNote['openings']): { readonly maybeAgain?: number } {
  if (!maybeAgain) return {}
  const times = new Set(counted.map(([at]) => at))
  return { maybeAgain: maybeAgain.filter(at => times.has(at)).length }
}

const openingsOf = ({ marks }: Ledger, mark: string): number => marks[mark]?.fold.openings ?? 0

const toldOf = ({ marks }: Ledger, mark: string): readonly ToldOpening[] => marks[mark]?.fold.story?.latest ?? []

/** The entries of a mark that nobody took back. */
function standing({ marks }: Ledger, mark: string, entries: readonly Entry[]): readonly Entry[] {
  const window = marks[mark]?.window ?? []
  const gone = new Set(window.filter(takenBack(window)).map(({ entry }) => entry.id))
  return entries.filter(({ id, what }) => what !== 'undone' && !gone.has(id))
}

/** @param unknown - marks of which nobody knows whether they were opened */
export function sinceText(
  opened: readonly Opened[],
  since: number,
  { timezone, openings: all }: Register,
  unknown: readonly string[] = [],
): string {
  const from = localTime(iso(since), timezone)
  const names = new Map(all.map(({ mark, name }) => [mark, name]))
  const headOf = (mark: string): string => `${mark.padEnd(6)} ${tame(names.get(mark) ?? '')}`
  const unknownLines = unknown
    .map(mark => `${headOf(mark)}: not known, the keeper's story of it did not come\n`)
    .join('')
  if (opened.length === 0) {
    const ofWhich = unknown.length > 0 ? ', of the openings whose story came' : ''
    return `Nothing was heard to open since ${from}${ofWhich}. A dead cell says nothing either: see \`sashtally tally\` for what is untested.\n${unknownLines}`
  }
  const lines = opened.map(({ mark, openings, atLeast, maybeAgain = 0, unsure, ...times }) => {
    const count = `${atLeast ? 'at least ' : ''}${openings} ${openings === 1 ? 'time' : 'times'}`
    const told = openings === 1 && !atLeast ? lastText(times, timezone) : `${count}, ${bothText(times, timezone)}`
    const doubts = [
      times.lastNotBefore ? 'the clock was wrong' : '',
      unsure ? `perhaps before ${from}` : '',
      againText(maybeAgain, openings),
    ].filter(Boolean)
    return `${headOf(mark)}: opened ${told}${doubts.length > 0 ? ` (${doubts.join('; ')})` : ''}`
  })
  return `Opened since ${from}:\n${lines.join('\n')}\n${unknownLines}`
}

/** `at Fri 11:02`, or the time in which it happened. */
function lastText({ last, lastFrom, lastNotBefore }: Times, timezone: string): string {
  if (lastNotBefore) return `at some time after ${localTime(last, timezone)}`
  if (lastFrom !== undefined) return `between ${localTime(lastFrom, timezone)} and ${localTime(last, timezone)}`
  return `at ${localTime(last, timezone)}`
}

/** The first and the last. */
function bothText(times: Times, timezone: string): string {
  const { first, last, firstFrom, lastFrom, firstNotBefore, lastNotBefore } = times
  if (!(firstFrom || lastFrom || firstNotBefore || lastNotBefore))
    return `${localTime(first, timezone)} to ${localTime(last, timezone)}`
  const one: Times = {
    ...{ first, last: first },
    ...(firstFrom === undefined ? {} : { lastFrom: firstFrom }),
    ...(firstNotBefore ? { lastNotBefore: true } : {}),
  }
  return `the first ${lastText(one, timezone)}, the last ${lastText(times, timezone)}`
}

function againText(maybeAgain: number, openings: number): string {
  if (maybeAgain === 0) return ''
  const one = 'perhaps the same word once more, not another opening'
  return openings === 1 ? one : `${maybeAgain} of them ${one}`
}
