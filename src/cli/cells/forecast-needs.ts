import { SHELF_YEARS } from '../../budget/circuit/cells.ts'
import type { Reading } from '../../protocol/reading.ts'
import { localOf } from '../../text/time-zone.ts'
import type { CellForecast } from './cell-forecasts.ts'
import type { Due, Limit } from './forecast-limit.ts'
import { leftSentence, silenceText } from './left-text.ts'
import type { KindLives } from './lives.ts'

const TEST = 'open it once as a test'
const AGAIN = 'open it once more'
const CHANGE = 'change the cell'
const UNHEARD = 'not heard on the last walk'
const UNSUITED = 'do not count on it'
const NOTHING = 'nothing yet'
const READY = 'keep a cell ready'
const SHELF = `its shelf life of about ${SHELF_YEARS} years`
const ALIKE = 'its end comes without a warning: each opening until then gets through about as surely as the last'
/** More marks than these are counted, not named. */
const NAMED = 8

/** What one cell needs: `by` is `now`, a day, or empty where nothing is known. */
export interface Need {
  readonly what: string
  readonly by: string
  readonly why: string
  /** Its contact was never heard: it wants to be opened once, beside what its cell needs. */
  readonly isUntried?: boolean
}

/** @param kind - what a new cell there gives */
export function needOf(row: CellForecast, timezone: string, kind: KindLives | undefined): Need {
  return { ...cellNeed(row, timezone, kind), isUntried: isUntried(row.reading) }
}

const isUntried = ({ last, provenAt }: Reading): boolean => last === undefined && provenAt === undefined

function cellNeed(row: CellForecast, timezone: string, kind: KindLives | undefined): Need {
  const { opening, reading, left, slowJoin, limit } = row
  const { doubts } = reading
  const told = why(row)
  const slow = slowJoin ? ['slow to join: test it'] : []
  if (doubts.includes('spent'))
    return { what: CHANGE, by: 'now', why: 'cell empty, or reed or magnet: it failed its test' }
  if (reading.unheardOnWalk) return { what: AGAIN, by: 'now', why: told || UNHEARD }
  if (!left) return { what: '', by: '', why: `no model of a ${opening.sender.cell}` }
  if (doubts.includes('overdue') || doubts.includes('faint')) {
    const heard = doubts.includes('faint')
      ? 'it started and its word did not get through: perhaps the cell'
      : silenceText(reading)
    return { what: TEST, by: 'now', why: heard }
  }
  if (doubts.includes('low') && kind && kind.modelMedian < 1 && reading.sends === 0)
    return { what: UNSUITED, by: '', why: `${told}; a new cell gives hardly more here: see budget and suit` }
  if (doubts.includes('low')) return { what: CHANGE, by: 'now', why: [told, ...slow].join('; ') }
  if (!limit) return { what: NOTHING, by: '', why: [told, ...slow].join('; ') }
  if (limit.end === 'shelf') return shelfNeed(limit, [told, ...slow], row, timezone)
  const by = dueText(limit, timezone)
  if (limit.end === 'empty') return { what: READY, by, why: [told, ALIKE, ...slow].join('; ') }
  return { what: CHANGE, by, why: [told, ...slow].join('; ') }
}

function shelfNeed(
  { by, before }: Limit & { readonly end: 'shelf' },
  told: readonly string[],
  { reading }: CellForecast,
  timezone: string,
): Need {
  const month = monthText(by, timezone)
  if (by <= Date.parse(reading.asOf)) return { what: CHANGE, by: 'now', why: [...told, `${SHELF} is over`].join('; ') }
  const range =
    before.from < by ? `one in twenty is by ${monthText(before.from, timezone)}` : 'not even one in twenty is'
  const end = before.end === 'low' ? 'low' : 'empty'
  const first = `${SHELF} ends it by ${month}; with these openings it is not expected to be ${end} before (${range})`
  return { what: NOTHING, by: `${month}, its shelf life`, why: [...told, first].join('; ') }
}

/** How much is left, what can be counted on, and what is not known. */
function why({ reading, left, sentBefore }: CellForecast): string {
  if (!left) return ''
  const counted = Math.floor(left.countOn + 1e-9)
  return [
    leftSentence(left),
    ...(counted >= 2 ? [`probably good for ${counted} more`] : []),
    ...untested(reading),
    ...(sentBefore === 'guessed' ? ['it has sent before the count began, how often is a guess'] : []),
    ...(sentBefore === 'unknown' ? ['its age is not known, so it may have less than a new one'] : []),
    ...(left.changeBy === undefined ? ['how often it is opened is not known yet'] : []),
  ].join(', ')
}

function untested(reading: Reading): string[] {
  if (reading.unheardOnWalk) return [UNHEARD]
  if (isUntried(reading)) return ['never tried yet']
  if (!reading.doubts.includes('untested')) return []
  if (reading.provenAt !== undefined) return ['untested for long']
  return [reading.sends === 0 ? 'not tested with this cell yet' : 'not tested yet']
}

const dateText = (time: number, timezone: string): string => {
  const { year, month, day } = localOf(time, timezone)
  return `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`
}

const monthText = (time: number, timezone: string): string => dateText(time, timezone).slice(0, -3)

/** `2027-04-12 (2026-12 to 2027-11)`: nine times in ten it comes to it between the two. */
function dueText({ by, from, to }: Due, timezone: string): string {
  const until = to === undefined ? 'or later' : `to ${monthText(to, timezone)}`
  return `${dateText(by, timezone)} (${monthText(from, timezone)} ${until})`
}

/** The answer in a line: what to do now, and what comes next. */
export function inShort(needs: readonly (Need & { readonly mark: string })[]): string {
  const named = (isSo: (need: Need) => boolean): string | undefined => {
    const marks = needs.filter(isSo).map(({ mark }) => mark)
    const more = marks.length > NAMED ? ` and ${marks.length - NAMED} more` : ''
    return marks.length > 0 ? `${marks.slice(0, NAMED).join(', ')}${more}` : undefined
  }
  const now = (what: string): string | undefined => named(need => need.by === 'now' && need.what === what)
  const [again, tests, changes] = [now(AGAIN), now(TEST), now(CHANGE)]
  const untried = named(need => need.isUntried === true && need.by !== 'now' && need.what !== UNSUITED)
  const unsuited = needs.filter(({ what }) => what === UNSUITED).length
  const ready = needs.filter(({ what }) => what === READY).sort((a, b) => (a.by < b.by ? -1 : 1))[0]
  const next = needs.find(({ by, what }) => what === CHANGE && by !== 'now')
  return [
    ...(again ? [`Not heard on the last walk, open once more: ${again}.`] : []),
    ...(tests ? [`Open once as a test: ${tests}.`] : []),
    ...(changes ? [`Change the cell now: ${changes}.`] : []),
    ...(unsuited ? [`Not to count on where they are: ${unsuited} ${unsuited === 1 ? 'contact' : 'contacts'}.`] : []),
    ...(untried ? [`Never heard yet, open once: ${untried}.`] : []),
    ...(again || tests || changes || unsuited || untried ? [] : ['Nothing to do now.']),
    ...(next ? [`Next cell: ${next.mark}, by ${next.by}.`] : []),
    ...(ready ? [`Keep a cell ready: ${ready.mark} may end about ${ready.by}.`] : []),
  ].join(' ')
}
