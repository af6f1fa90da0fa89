/** What one opening did, as its fold keeps it: what is taken back, or said for an earlier time, is counted in its place. */
import type { Entry } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import { sorted } from '../text/lists.ts'
import { monthOf } from '../text/time-zone.ts'
import { changed, type Fold } from './fold.ts'

/** The present month and the twelve before it. */
export const MOST_MONTHS = 13
/** Openings kept of each. */
export const MOST_TOLD = 40

/** Openings of one month of the house's calendar; milliseconds since the epoch, `to` is the start of the next. */
export interface MonthCount {
  readonly from: number
  readonly to: number
  readonly openings: number
}

/** When it opened; until when at the latest, where the word had waited; when it was next known shut. Milliseconds. */
export type Told = readonly [at: number, until: number | null, shutAt: number | null]

export interface Story {
  /** Kept from here on, where openings had been counted before: milliseconds since the epoch. */
  readonly from?: number
  /** Months with an opening, in order. */
  readonly months: readonly MonthCount[]
  /** The last openings, in the order in which they were counted. */
  readonly latest: readonly Told[]
}

const NO_STORY: Story = { months: [], latest: [] }

/** What an entry adds: an opening, or that it is known shut. @param before - the fold without the entry */
export function withStory(before: Fold, after: Fold, entry: Entry, policy: Policy): Fold {
  const isShut = after.state === 'closed'
  if (after.openings > before.openings) {
    const isWaiting = entry.how === 'queued' && entry.until !== undefined
    const at = after.wordAt ?? Date.parse(entry.at)
    const until = isWaiting ? Date.parse(entry.until!) : null
    const story = before.story ?? (before.openings === 0 ? NO_STORY : { ...NO_STORY, from: at })
    const months = counted(story.months, at, policy.timezone ?? 'UTC')
    const latest: readonly Told[] = [...story.latest, [at, until, null]]
    return { ...after, story: { ...story, months, latest: latest.slice(-MOST_TOLD) } }
  }
  if (!after.story || isShut === (before.state === 'closed')) return after
  return changed(after, { story: isShut ? shut(after.story, after.since) : openAgain(after.story) })
}

function counted(months: readonly MonthCount[], at: number, timezone: string): readonly MonthCount[] {
  const index = months.findLastIndex(({ from, to }) => at >= from && at < to)
  if (index < 0) {
    const added = [...months, { ...monthOf(at, timezone), openings: 1 }]
    return sorted(added, (a, b) => a.from - b.from).slice(-MOST_MONTHS)
  }
  return months.map((month, place) => (place === index ? { ...month, openings: month.openings + 1 } : month))
}

/** Every opening since it was last known shut. */
function shut(story: Story, at = 0): Story {
  const last = story.latest.findLastIndex(([, , shutAt]) => shutAt !== null)
  const latest = story.latest.map((told, place): Told => (place > last ? [told[0], told[1], at] : told))
  return { ...story, latest }
}

/** Its last opening goes on: it bounced, or its word is older than the look. */
function openAgain(story: Story): Story {
  const latest = story.latest.map(
    (told, place): Told => (place === story.latest.length - 1 ? [told[0], told[1], null] : told),
  )
  return { ...story, latest }
}

/** The story of an opening that had another mark before. */
export function joinStories(old: Story | undefined, now: Story | undefined): Story | undefined {
  if (!old || !now) return old ?? now
  const months = [...old.months]
  for (const month of now.months) {
    const place = months.findIndex(({ from }) => from === month.from)
    if (place < 0) months.push(month)
    else months[place] = { ...month, openings: month.openings + months[place]!.openings }
  }
  return {
    ...old,
    months: sorted(months, (a, b) => a.from - b.from).slice(-MOST_MONTHS),
    latest: [...old.latest, ...now.latest].slice(-MOST_TOLD),
  }
}
