/** The story of one opening for whoever looks at it: keeper and tablet tell it by this one rule. */
import { isCounted } from '../ledger/cells.ts'
import { EMPTY_FOLD, type Fold } from '../ledger/fold.ts'
import { MOST_MONTHS, type ToldOpening } from '../ledger/story.ts'
import type { MarkState } from '../ledger/window.ts'
import type { Policy } from '../protocol/policy.ts'
import type { StoryNote } from '../protocol/story.ts'
import { sorted } from '../text/lists.ts'
import { own } from '../text/own.ts'
import { iso } from '../text/time.ts'
import { type Month, monthsTo } from '../text/time-zone.ts'
import { deafTo, lengthIn, type Span } from './deaf.ts'
import type { HouseState } from './state.ts'

/** Most characters of a story: of its openings the older ones are left out. */
const LONGEST_STORY = 4_000
/** Of an opening with three times and both marks: 27 characters a time, and its brackets. */
const LONGEST_OPENING = 140
const MOST_CELLS = 12
const MOST_UNHEARD = 8

/**
 * Tells the stories of a house.
 * @param until - until when somebody listened at the latest, milliseconds since the epoch
 * @param maybeAgain - `maybeAgainIn`, given by a shell that can know; default: none
 * @returns the story of a mark; undefined for a mark that the house does not have
 */
export function storyTeller(
  { register, ledger, deaf }: HouseState,
  until: number,
  maybeAgain: (state: MarkState, latest: readonly ToldOpening[]) => readonly number[] = () => [],
): (mark: string) => StoryNote | undefined {
  const timezone = register?.timezone ?? 'UTC'
  const months = monthsTo(until, timezone, MOST_MONTHS)
  const begun = ledger.since === undefined ? until : Date.parse(ledger.since)
  // Of all that never opened while somebody listened: most of a house that is new.
  const empty = monthsOf(EMPTY_FOLD, months, [], until)
  return mark => {
    const policy = own(ledger.policy, mark)
    if (!policy) return undefined
    const state = own(ledger.marks, mark)
    const fold = state?.fold ?? EMPTY_FOLD
    const again = state ? maybeAgain(state, fold.story?.latest ?? []).map(iso) : []
    const since = Math.max(begun, fold.story?.from ?? begun)
    const unheard = deafTo(mark, deaf, since, [months[0]!.from, until])
    return bounded({
      v: 1,
      mark,
      months: fold.story || unheard.length > 0 ? monthsOf(fold, months, unheard, until) : empty,
      ...openingsOf(fold, until),
      ...(again.length > 0 ? { maybeAgain: again } : {}),
      cells: cellsOf(fold, policy, begun),
      ...(unheard.length > 0
        ? { unheard: unheard.slice(-MOST_UNHEARD).map(([from, to]): [string, string] => [iso(from), iso(to)]) }
        : {}),
    })
  }
}

/** `listened` counts down: a part that is not whole is never told as whole. */
function monthsOf({ story }: Fold, months: readonly Month[], unheard: readonly Span[], until: number) {
  return months.map(({ name: month, from, to }) => {
    const openings = story?.months.find(each => each.from < to && each.to > from)?.openings ?? 0
    const listened = Math.max(0, Math.min(until, to) - from - lengthIn(unheard, [from, to])) / (to - from)
    return { month, openings, listened: Math.floor(listened * 100) / 100 }
  })
}

function openingsOf({ story }: Fold, now: number): Pick<StoryNote, 'openings' | 'notBefore'> {
  const latest = sorted(story?.latest ?? [], (a, b) => a[0] - b[0])
  const openings = latest.map(([at, until, shutAt]): StoryNote['openings'][number] => {
    const end = until === null ? null : iso(until === 'unknown' ? Math.max(at, now) : until)
    return shutAt !== null ? [iso(at), end, iso(shutAt)] : end ? [iso(at), end] : [iso(at)]
  })
  const notBefore = latest.flatMap(([at, until]) => (until === 'unknown' ? [iso(at)] : []))
  return { openings, ...(notBefore.length > 0 ? { notBefore } : {}) }
}

/**
 * A cell of which nobody said when it was fitted was fitted when the one before it came out, if there was one. One that
 * was fitted before counting began sent nobody knows how often: it is told without its sends while it runs, and left out
 * once it has come out.
 */
function cellsOf(
  { past, countedSince, firstWordAt, sends }: Fold,
  { power, cellFitted }: Policy,
  begun: number,
): StoryNote['cells'] {
  if (power !== 'cell') return []
  const cells: StoryNote['cells'][number][] = []
  let before: number | undefined
  for (const { fittedAt = before, endedAt, sends: sent, ended } of past) {
    const failed = ended === 'failed' ? { failed: true as const } : {}
    if (isCounted(fittedAt, begun) && endedAt !== undefined)
      cells.push({ fitted: iso(fittedAt), sends: sent, ended: iso(endedAt), ...failed })
    before = endedAt
  }
  const fitted = countedSince ?? before ?? Date.parse(cellFitted ?? '')
  // A date in the register sets no count back: of a contact that spoke before that day, an older cell's sends are in it.
  const isFromNew = isCounted(fitted, begun) && isCounted(countedSince ?? before ?? firstWordAt ?? fitted, fitted)
  if (!Number.isNaN(fitted)) cells.push({ fitted: iso(fitted), ...(isFromNew ? { sends } : {}) })
  return cells.slice(-MOST_CELLS)
}

/** An opening that is left out takes its marks with it. */
function bounded(story: StoryNote): StoryNote {
  const spare = JSON.stringify(story).length - LONGEST_STORY
  if (spare <= 0 || story.openings.length === 0) return story
  const openings = story.openings.slice(Math.ceil(spare / LONGEST_OPENING))
  const told = (name: 'maybeAgain' | 'notBefore'): Partial<StoryNote> =>
    story[name] ? { [name]: story[name].filter(at => openings.some(([from]) => from === at)) } : {}
  return bounded({ ...story, openings, ...told('maybeAgain'), ...told('notBefore') })
}
