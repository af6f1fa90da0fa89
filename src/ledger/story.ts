/** What one opening did, as its fold keeps it: what is taken back, or said for an earlier time, is counted in its place. */
import { sorted } from '../text/lists.ts'
import { type Month, monthsTo } from '../text/time-zone.ts'

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

/**
 * When it opened; until when at the latest, where that is another time: `unknown` while the clock cannot be right; when it
 * was next known shut. Milliseconds.
 */
export type ToldOpening = readonly [at: number, until: number | 'unknown' | null, shutAt: number | null]

export interface Story {
  /** Kept from here on, where openings had been counted before: milliseconds since the epoch. */
  readonly from?: number
  /** Months with an opening, in order. */
  readonly months: readonly MonthCount[]
  /** The last openings, in the order in which they were counted. */
  readonly latest: readonly ToldOpening[]
}

const NO_STORY: Story = { months: [], latest: [] }

/** Adds an opening. @param before - openings that were counted earlier */
export function tellOpening(story: Story | undefined, before: number, told: ToldOpening, timezone: string): Story {
  const { months, latest, ...rest } = story ?? (before === 0 ? NO_STORY : { ...NO_STORY, from: told[0] })
  const last = latest.slice(1 - MOST_TOLD)
  last.push(told)
  return { ...rest, months: counted(months, told[0], timezone), latest: last }
}

function counted(months: readonly MonthCount[], at: number, timezone: string): readonly MonthCount[] {
  const index = months.findLastIndex(({ from, to }) => at >= from && at < to)
  if (index < 0) {
    const [{ from, to }] = monthsTo(at, timezone, 1) as [Month]
    const added = [...months, { from, to, openings: 1 }]
    return sorted(added, (a, b) => a.from - b.from).slice(-MOST_MONTHS)
  }
  const copy = months.slice()
  copy[index] = { ...months[index]!, openings: months[index]!.openings + 1 }
  return copy
}

/** Every opening since it was last known shut is shut now. */
export function tellShut(story: Story, at: number): Story {
  const last = story.latest.findLastIndex(([, , shutAt]) => shutAt !== null)
  const latest = story.latest.map((told, place): ToldOpening => (place > last ? [told[0], told[1], at] : told))
  return { ...story, latest }
}

/** Its last opening goes on: it bounced, or its word came after the look. */
export function tellOpenAgain(story: Story): Story {
  const latest = story.latest.map(
    (told, place): ToldOpening => (place === story.latest.length - 1 ? [told[0], told[1], null] : told),
  )
  return { ...story, latest }
}

/** True where nobody knows a latest time for one of its openings. */
export const hasUnknownEnd = (story: Story | undefined): boolean =>
  story?.latest.some(([, until]) => until === 'unknown') === true

/**
 * What came by a clock that was wrong happened before it was set.
 * @param set - whether a time is one of that clock (what has no latest time is taken in any case), the earliest time that
 * it stands for, and when it was set; milliseconds since the epoch
 */
export function tellClockSet(
  story: Story,
  set: { isWrong(time: number): boolean; sound(time: number): number; readonly to: number },
): Story {
  const { isWrong, sound, to } = set
  const latest = story.latest.map(([at, until, shutAt]): ToldOpening => {
    const end = until === 'unknown' || (until === null && isWrong(at)) ? to : until
    return [sound(at), end, shutAt !== null && isWrong(shutAt) ? to : shutAt]
  })
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
