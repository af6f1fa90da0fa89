import type { StoryNote } from '../../protocol/story.ts'
import { dayOf, localOf, momentOf } from '../../text/time-zone.ts'
import type { Elevation } from '../draw/plan.ts'
import { spansOf } from '../draw/story.ts'
import type { Day, Opened } from '../draw/today.ts'
import type { Row } from '../state/row.ts'
import { openedSince } from './opened-since.ts'
import type { StoryOf } from './stories.ts'

const HOURS = [6, 12, 18]

/** The local day up to now. */
export function dayTo(now: number, timezone: string): Omit<Day, 'deaf'> {
  const { from, to } = dayOf(now, timezone)
  const { year, month, day } = localOf(now, timezone)
  return { from, now, to, hours: HOURS.map(hour => ({ hour, at: momentOf(timezone, year, month, day, hour) })) }
}

/** When nobody listened to the house at all since a time: the spans of the opening that was listened to most. */
export function deafSince(rows: readonly Row[], storyOf: StoryOf, since: number): Day['deaf'] {
  const all = rows.flatMap(({ opening }) => storyOf(opening.mark) ?? [])
  const deaf = all.map(({ unheard = [] }) =>
    unheard.flatMap(([from, to]) =>
      Date.parse(to) > since ? [[Math.max(since, Date.parse(from)), Date.parse(to)] as const] : [],
    ),
  )
  const long = (spans: Day['deaf']) => spans.reduce((sum, [from, to]) => sum + to - from, 0)
  return deaf.sort((a, b) => long(a) - long(b))[0] ?? []
}

interface Known {
  readonly row: Row | undefined
  readonly story: StoryNote | undefined
}

/** The openings of today by side: worked out again only where a row or its story has changed. */
export class OpenedToday {
  #from = 0
  #sides = new WeakMap<Elevation, { readonly known: readonly Known[]; readonly opened: Opened }>()

  on(elevation: Elevation, rowOf: (mark: string) => Row | undefined, day: Day, storyOf: StoryOf): Opened {
    if (day.from !== this.#from) {
      this.#from = day.from
      this.#sides = new WeakMap()
    }
    const known = elevation.openings.map(({ mark }): Known => ({ row: rowOf(mark), story: storyOf(mark) }))
    const before = this.#sides.get(elevation)
    const isSame = (each: Known, index: number) => each.row === known[index]?.row && each.story === known[index]?.story
    if (before?.known.every(isSame)) return before.opened
    const parts = known.flatMap(each => (each.row ? [openedOn(each.row, each.story, day)] : []))
    const opened = { times: parts.flatMap(({ times }) => times), spans: parts.flatMap(({ spans }) => spans) }
    this.#sides.set(elevation, { known, opened })
    return opened
  }
}

function openedOn(row: Row, story: StoryNote | undefined, { from, now }: Pick<Day, 'from' | 'now'>): Opened {
  const { reading, opening } = row
  const [opened] = openedSince([row], () => story, from)
  const times = opened?.times ?? []
  if (opening.reports !== 'both') return { times, spans: [] }
  const still = reading.position === 'open' && reading.since !== undefined ? Date.parse(reading.since) : undefined
  const over = (story ? spansOf(story, now) : []).filter(
    ([a, b]) => b > from && (still === undefined || a < still) && b < now,
  )
  const spans: Opened['spans'] = [
    ...over.map(([a, b]) => ({ from: Math.max(from, a), to: b })),
    ...(still === undefined ? [] : [{ from: Math.max(from, still) }]),
  ]
  const isDrawn = (time: number) => spans.some(span => time >= span.from - 1_000 && time <= (span.to ?? now))
  return { times: times.filter(time => !isDrawn(time)), spans }
}
