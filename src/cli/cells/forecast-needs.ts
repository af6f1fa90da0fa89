import { SHELF_YEARS } from '../../budget/circuit/cells.ts'
import type { Reading } from '../../protocol/reading.ts'
import { DAY, DAYS_IN_YEAR } from '../../text/time.ts'
import { localOf } from '../../text/time-zone.ts'
import type { CellForecast } from './cell-forecasts.ts'
import { leftSentence, silenceText } from './left-text.ts'
import type { KindLives } from './lives.ts'

const TEST = 'open it once as a test'
const CHANGE = 'change the cell'
const UNSUITED = 'do not count on it'
const NOTHING = 'nothing yet'
const SHELF = `its shelf life, about ${SHELF_YEARS} years, ends first`
/** More marks than these are counted, not named. */
const NAMED = 8

/** What one cell needs: `by` is `now`, a day, or empty where nothing is known. */
export interface Need {
  readonly what: string
  readonly by: string
  readonly why: string
}

/** @param kind - what a new cell there gives */
export function needOf(row: CellForecast, timezone: string, kind: KindLives | undefined): Need {
  const { opening, reading, left, slowJoin } = row
  const { doubts } = reading
  const told = why(row)
  const slow = slowJoin ? ['slow to join: test it'] : []
  if (doubts.includes('spent'))
    return { what: CHANGE, by: 'now', why: 'cell empty, or reed or magnet: it failed its test' }
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
  if (left.changeBy === undefined) return { what: NOTHING, by: '', why: [told, ...slow].join('; ') }
  if (left.changeBy - Date.parse(reading.asOf) >= SHELF_YEARS * DAYS_IN_YEAR * DAY - DAY)
    return { what: NOTHING, by: '', why: [told, SHELF, ...slow].join('; ') }
  return { what: CHANGE, by: dateText(left.changeBy, timezone), why: [told, ...slow].join('; ') }
}

/** How much is left, what can be counted on, and what is not known. */
function why({ reading, left, sentBefore }: CellForecast): string {
  if (!left) return ''
  const counted = Math.floor(left.countOn + 1e-9)
  return [
    leftSentence(left),
    ...(counted >= 2 ? [`probably good for ${counted} more`] : []),
    ...(reading.last === undefined && reading.provenAt === undefined ? ['never tried yet'] : untested(reading)),
    ...(sentBefore ? ['it may have sent before the count began'] : []),
    ...(left.changeBy === undefined ? ['how often it is opened is not known yet'] : []),
  ].join(', ')
}

const untested = ({ doubts, unheardOnWalk }: Reading): string[] => {
  if (unheardOnWalk) return ['not heard on the last walk']
  return doubts.includes('untested') ? ['untested for long'] : []
}

function dateText(time: number, timezone: string): string {
  const { year, month, day } = localOf(time, timezone)
  return `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`
}

/** The answer in a line: what to do now, and what comes next. */
export function inShort(needs: readonly (Need & { readonly mark: string })[]): string {
  const now = (what: string): string | undefined => {
    const marks = needs.filter(need => need.by === 'now' && need.what === what).map(({ mark }) => mark)
    const more = marks.length > NAMED ? ` and ${marks.length - NAMED} more` : ''
    return marks.length > 0 ? `${marks.slice(0, NAMED).join(', ')}${more}` : undefined
  }
  const [tests, changes] = [now(TEST), now(CHANGE)]
  const unsuited = needs.filter(({ what }) => what === UNSUITED).length
  const next = needs.find(({ by, what }) => what === CHANGE && by !== 'now')
  return [
    ...(tests ? [`Open once as a test: ${tests}.`] : []),
    ...(changes ? [`Change the cell now: ${changes}.`] : []),
    ...(unsuited ? [`Not to count on where they are: ${unsuited} ${unsuited === 1 ? 'contact' : 'contacts'}.`] : []),
    ...(tests || changes || unsuited ? [] : ['Nothing to do now.']),
    ...(next ? [`Next cell: ${next.mark}, by ${next.by}.`] : []),
  ].join(' ')
}
