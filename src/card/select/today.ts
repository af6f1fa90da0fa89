import type { Ledger } from '../../ledger/apply.ts'
import { own } from '../../text/own.ts'
import { dayOf, localOf, momentOf } from '../../text/time-zone.ts'
import type { Elevation } from '../draw/plan.ts'
import { storyOf } from '../draw/story.ts'
import type { Day, Opened } from '../draw/today.ts'
import type { Span } from '../state/keeper.ts'
import type { Row } from '../state/row.ts'
import { openedSince } from './opened-since.ts'

/** What is known of the openings of a day, beside the rows. */
export interface Known {
  readonly ledger: Ledger | undefined
  toldOf(mark: string): readonly Span[]
}

const HOURS = [6, 12, 18]

/** The local day up to now. @param deaf - in these nobody listened; what lies before the day is cut off */
export function dayTo(now: number, timezone: string, deaf: readonly (readonly [number, number])[]): Day {
  const { from, to } = dayOf(now, timezone)
  const { year, month, day } = localOf(now, timezone)
  return {
    from,
    now,
    to,
    hours: HOURS.map(hour => ({ hour, at: momentOf(timezone, year, month, day, hour) })),
    deaf: deaf.map(([a, b]) => [Math.max(a, from), b] as const).filter(([a, b]) => b > a),
  }
}

/** The openings of today by side: worked out again only for a row that has changed. */
export class OpenedToday {
  #from = 0
  #rows = new WeakMap<Row, Opened>()
  #sides = new WeakMap<Elevation, { readonly rows: readonly (Row | undefined)[]; readonly opened: Opened }>()

  on(elevation: Elevation, rowOf: (mark: string) => Row | undefined, day: Day, known: Known): Opened {
    if (day.from !== this.#from) {
      this.#from = day.from
      this.#rows = new WeakMap()
      this.#sides = new WeakMap()
    }
    const rows = elevation.openings.map(({ mark }) => rowOf(mark))
    const before = this.#sides.get(elevation)
    if (before?.rows.every((row, index) => row === rows[index])) return before.opened
    const parts = rows.flatMap(row => (row ? [this.#ofRow(row, day, known)] : []))
    const opened = { times: parts.flatMap(({ times }) => times), spans: parts.flatMap(({ spans }) => spans) }
    this.#sides.set(elevation, { rows, opened })
    return opened
  }

  #ofRow(row: Row, day: Day, known: Known): Opened {
    const kept = this.#rows.get(row) ?? ofRow(row, day, known)
    this.#rows.set(row, kept)
    return kept
  }
}

const NOTHING: Opened = { times: [], spans: [] }

function ofRow(row: Row, { from, now }: Day, { ledger, toldOf }: Known): Opened {
  const { reading, opening } = row
  const isToday = (at: string | undefined) => at !== undefined && Date.parse(at) >= from
  const { since, provenAt, last, position } = reading
  if (position !== 'open' && ![since, provenAt, last?.at, last?.until].some(isToday)) return NOTHING
  const [opened] = openedSince([row], ledger, from, toldOf)
  const times = opened?.times ?? []
  if (opening.reports !== 'both') return { times, spans: [] }
  const { window = [], base } = (ledger && own(ledger.marks, opening.mark)) ?? {}
  const entries = window.map(({ entry }) => entry)
  const { spans: all } = storyOf(entries, now, opening.policy, base)
  const told = all.filter(({ state, to }) => state === 'open' && to > from)
  const isStill = position === 'open' && since !== undefined
  const spans: Opened['spans'] = [
    ...told.filter(span => !isStill || span.to < now).map(span => ({ from: Math.max(from, span.from), to: span.to })),
    ...(isStill ? [{ from: Math.max(from, Date.parse(since)) }] : []),
  ]
  const isDrawn = (time: number) => spans.some(span => time >= span.from - 1_000 && time <= (span.to ?? now))
  return { times: times.filter(time => !isDrawn(time)), spans }
}
