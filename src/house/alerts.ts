import type { Alert, AlertNote, ToldAlerts } from '../protocol/alert.ts'
import type { Reading } from '../protocol/reading.ts'
import { own } from '../text/own.ts'
import { DAY, HOUR, iso } from '../text/time.ts'
import { localOf, momentOf } from '../text/time-zone.ts'
import { uuidOf } from '../text/uuid.ts'
import { type Known, openOf, reasonsOf, testedOf, UNREADABLE } from './alert-reasons.ts'
import type { HouseState } from './state.ts'

/** A mark, and what an alert of it is about. */
type About = readonly [mark: string, about: string]

export interface DueAlert {
  /** The same for the same alert whenever it is worked out, and for no other. */
  readonly id: string
  readonly note: AlertNote
  /** What has been told once this one has. */
  readonly told: ToldAlerts
}

/** A bedtime that passed while no tally was kept is told of for so long; later nobody is up to shut anything. */
const LATE = 2 * HOUR
/** Marks in one alert: its payload stays under what a reader takes. */
const MOST_MARKS = 500

/**
 * What the register asked to be told of and was not told yet, each once for what it is about. Of an opening that the
 * keeper could not hear nothing is said but that, and that its cell is due.
 * @param before - what was told; undefined: nothing was asked for until now, and bedtimes count from now on
 * @param unreadable - marks whose topic the broker does not let the keeper read
 * @param now - milliseconds since the epoch
 * @returns the alerts in their order, and what is told after all of them: `before` itself where nothing is new
 */
export function alertsDue(
  { register, ledger, readings }: HouseState,
  before: ToldAlerts | undefined,
  unreadable: ReadonlySet<string>,
  now: number,
): { readonly due: readonly DueAlert[]; readonly told: ToldAlerts | undefined } {
  if (!register?.alerts) return { due: [], told: before }
  const { alerts: asked, tally, timezone } = register
  const known: Known = { ledger, readings: [...readings.values()], unreadable, now }
  const due: DueAlert[] = []
  let told = startOf(before, unreadable, now)
  const tell = (what: Alert, about: readonly About[], after: (some: readonly About[]) => ToldAlerts): void => {
    for (let from = 0; from < about.length; from += MOST_MARKS) {
      const some = about.slice(from, from + MOST_MARKS)
      told = after(some)
      const note: AlertNote = { v: 1, what, marks: some.map(([mark]) => mark), at: iso(now) }
      due.push({ id: uuidOf(JSON.stringify([tally, what, some])), note, told })
    }
  }

  const bedtime = asked.bedtime === undefined ? Number.NaN : lastTime(asked.bedtime, timezone, now)
  const isLate = now - bedtime > LATE
  const tellOpen = (open: readonly Reading[], held: readonly string[]): void => {
    const after = { bedtime: iso(bedtime), about: heldIn(told, held, iso(bedtime)) }
    tell(
      'open-at-bedtime',
      open.map(({ mark }) => [mark, after.bedtime]),
      () => after,
    )
    told = after
  }
  const held = Object.keys(told.about[HELD] ?? {})
  if (bedtime > Date.parse(told.bedtime)) tellOpen(isLate ? [] : openOf(known), isLate ? [] : testedOf(known))
  else if (held.length > 0 && !isLate) {
    const still = testedOf(known).filter(mark => held.includes(mark))
    const wasOpen = ({ mark, since = '' }: Reading) => held.includes(mark) && Date.parse(since) <= bedtime
    if (still.length < held.length) tellOpen(openOf(known).filter(wasOpen), still)
  }
  for (const [what, reasons] of reasonsOf(known, asked)) {
    const fresh = [...reasons].filter(([mark, about]) => own(told.about[what] ?? {}, mark) !== about)
    tell(what, fresh, some => ({
      ...told,
      about: { ...told.about, [what]: { ...told.about[what], ...Object.fromEntries(some) } },
    }))
  }
  return { due, told }
}

/** Under this alert stands what was on test at the last bedtime: it is told when its test is over. */
const HELD = 'open-at-bedtime'

function heldIn({ about }: ToldAlerts, marks: readonly string[], bedtime: string): ToldAlerts['about'] {
  const { [HELD]: _, ...others } = about
  return marks.length === 0 ? others : { ...others, [HELD]: Object.fromEntries(marks.map(mark => [mark, bedtime])) }
}

/** What was told, without what can be no more: a bedtime by a clock that ran ahead, a topic that may be read again. */
function startOf(before: ToldAlerts | undefined, unreadable: ReadonlySet<string>, now: number): ToldAlerts {
  if (!before) return { bedtime: iso(now), about: {} }
  const isAhead = Date.parse(before.bedtime) > now + DAY
  const unheard = Object.entries(before.about.unheard ?? {})
  const still = unheard.filter(([mark, about]) => about !== UNREADABLE || unreadable.has(mark))
  if (!isAhead && still.length === unheard.length) return before
  return {
    bedtime: isAhead ? iso(now) : before.bedtime,
    about: { ...before.about, unheard: Object.fromEntries(still) },
  }
}

/** The last moment at which the clocks of a house showed a time of day; one that they skip is as much later. */
function lastTime(time: string, timezone: string, now: number): number {
  const [hour, minute] = time.split(':').map(Number)
  const { year, month, day } = localOf(now, timezone)
  const today = momentOf(timezone, year, month, day, hour, minute)
  return today <= now ? today : momentOf(timezone, year, month, day - 1, hour, minute)
}
