import { policyOf } from '../../house/policy.ts'
import { apply, applyAll, type Ledger, startLedger } from '../../ledger/apply.ts'
import { MOST_TOLD } from '../../ledger/story.ts'
import { takenBack, timeOf, timesIn } from '../../ledger/window.ts'
import type { Entry } from '../../protocol/entry.ts'
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
  readonly first: string
  readonly last: string
  /** It happened at some time after `first`, or `last`: the keeper's clock was wrong, and nobody knows when. */
  readonly firstNotBefore?: true
  readonly lastNotBefore?: true
  /** Some of these waited at the broker: they may have happened earlier than `since`. */
  readonly unsure: boolean
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
      for (const entry of standing(applyAll(start, entries), mark, entries)) {
        const before = ledger
        ledger = apply(ledger, entry)
        if (openingsOf(ledger, mark) > openingsOf(before, mark)) counted.push(entry)
      }
      const [first, last] = [counted[0], counted.at(-1)]
      if (!first || !last) return []
      const latest = latestIn(ledger, mark)
      const hasNoEnd = (entry: Entry): boolean => latest(entry) === Number.POSITIVE_INFINITY
      const told = (entry: Entry): string => (hasNoEnd(entry) ? entry.at : iso(latest(entry)))
      return [
        {
          ...{ mark, name, openings: openingsOf(ledger, mark), first: told(first), last: told(last) },
          maybeAgain: counted.filter(({ maybeAgain }) => maybeAgain).length,
          ...(hasNoEnd(first) ? { firstNotBefore: true as const } : {}),
          ...(hasNoEnd(last) ? { lastNotBefore: true as const } : {}),
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
    type Time = typeof first
    const hasNoEnd = ([at]: Time): boolean => story.notBefore?.includes(at) ?? false
    const timeTold = (one: Time): string => (hasNoEnd(one) ? one[0] : (one[1] ?? one[0]))
    opened.push({
      ...{ mark, name, openings: counted.length, first: timeTold(first), last: timeTold(last) },
      ...(counted.length === told.length && total > told.length ? { atLeast: true as const } : {}),
      ...(hasNoEnd(first) ? { firstNotBefore: true as const } : {}),
      ...(hasNoEnd(last) ? { lastNotBefore: true as const } : {}),
      unsure: counted.some(([at]) => Date.parse(at) < since),
    })
  }
  return { opened: opened.sort((a, b) => (a.last < b.last ? 1 : -1)), unknown }
}

const openingsOf = ({ marks }: Ledger, mark: string): number => marks[mark]?.fold.openings ?? 0

/** When an entry happened at the latest, milliseconds: what came by a wrong clock, before that was set. */
function latestIn({ marks }: Ledger, mark: string): (entry: Entry) => number {
  const window = marks[mark]?.window ?? []
  const times = timesIn(window)
  return entry => {
    const kept = window.find(({ entry: { id } }) => id === entry.id)
    return kept ? times(kept) : timeOf(entry)
  }
}

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
  const when = (time: string, isEarliest?: true) =>
    `${isEarliest ? 'some time after ' : ''}${localTime(time, timezone)}`
  const lines = opened.map(({ mark, openings, atLeast, maybeAgain = 0, unsure, ...times }) => {
    const last = when(times.last, times.lastNotBefore)
    const count = `${atLeast ? 'at least ' : ''}${openings}`
    const told =
      openings === 1 && !atLeast
        ? `at ${last}`
        : `${count} ${openings === 1 ? 'time' : 'times'}, ${when(times.first, times.firstNotBefore)} to ${last}`
    const doubts = [
      times.lastNotBefore ? 'the clock was wrong' : '',
      unsure ? 'it waited at the broker: perhaps earlier' : '',
      againText(maybeAgain, openings),
    ].filter(Boolean)
    return `${headOf(mark)}: opened ${told}${doubts.length > 0 ? ` (${doubts.join('; ')})` : ''}`
  })
  return `Opened since ${from}:\n${lines.join('\n')}\n${unknownLines}`
}

function againText(maybeAgain: number, openings: number): string {
  if (maybeAgain === 0) return ''
  const one = 'perhaps the same word once more, not another opening'
  return openings === 1 ? one : `${maybeAgain} of them ${one}`
}
