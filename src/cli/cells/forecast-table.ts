import { fitLifetimes } from '../../budget/lives/fit-lifetimes.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import { localOf } from '../../text/time-zone.ts'
import type { CellForecast } from './cell-forecasts.ts'
import { chanceText, leftSentence, leftText, restsText, silenceText } from './left-text.ts'
import type { KindLives } from './lives.ts'

/** The forecast as a person reads it: which cell, where, what to do by when, and why; then what it rests on. */
export function forecastTable(
  register: Register,
  rows: readonly CellForecast[],
  kinds: readonly KindLives[],
  { accept, figures }: { readonly accept?: number | undefined; readonly figures?: boolean | undefined },
): string {
  if (rows.length === 0) return `${tame(register.house)}: no opening runs on a cell\n`
  const needs = rows.map(row => {
    const { what, by, why } = needOf(row, register.timezone)
    return [row.opening.mark, row.opening.name, row.opening.room ?? '', what, by, why]
  })
  const lines = [
    `${tame(register.house)}: what each cell needs, the most urgent first`,
    '',
    ...columns([['mark', 'name', 'room', 'what', 'by', 'why'], ...needs], Number.POSITIVE_INFINITY),
  ]
  if (figures) lines.push('', ...figureLines(rows))
  lines.push('', ...kinds.flatMap(kindLines))
  if (accept !== undefined) lines.push('', ...proofLines(rows, accept))
  lines.push('', CELL_CAUTION)
  return `${lines.join('\n')}\n`
}

interface Need {
  readonly what: string
  readonly by: string
  readonly why: string
}

function needOf(row: CellForecast, timezone: string): Need {
  const { opening, reading, left, slowJoin } = row
  const { doubts } = reading
  const told = why(row)
  const slow = slowJoin ? ['slow to join: test it'] : []
  if (doubts.includes('spent'))
    return { what: 'change the cell', by: 'now', why: 'cell empty, or reed or magnet: it failed its test' }
  if (!left) return { what: '', by: '', why: `no model of a ${opening.sender.cell}` }
  if (doubts.includes('overdue') || doubts.includes('faint')) {
    const heard = doubts.includes('faint')
      ? 'it started and its word did not get through: perhaps the cell'
      : silenceText(reading)
    return { what: 'open it once as a test', by: 'now', why: heard }
  }
  if (doubts.includes('low')) return { what: 'change the cell', by: 'now', why: [told, ...slow].join('; ') }
  const date = left.changeBy === undefined ? '' : dateText(left.changeBy, timezone)
  const what = left.changeBy === undefined ? 'nothing yet' : 'change the cell'
  return { what, by: date, why: [told, ...slow].join('; ') }
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

const untested = ({ doubts }: Reading): string[] => (doubts.includes('untested') ? ['untested for long'] : [])

function dateText(time: number, timezone: string): string {
  const { year, month, day } = localOf(time, timezone)
  return `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`
}

/** The figures behind it; the README says what each of them is. */
function figureLines(rows: readonly CellForecast[]): string[] {
  const cells = rows.map(({ opening, reading, left, sentBefore }) => [
    opening.mark,
    `${reading.sends}${sentBefore ? '+' : ''}`,
    left ? leftText(left) : 'not known',
    left ? chanceText(left.next) : '',
    left ? chanceText(left.alive) : '',
    left ? (left.neverLow ? '-' : String(left.untilLow)) : '',
    left ? restsText(left.restsOn) : '',
  ])
  return columns([['mark', 'sent', 'left', 'next', 'alive', 'low in', 'rests on'], ...cells])
}

function kindLines({ label, modelMedian, countKnown, atLeast, refuted, lives, scaled }: KindLives): string[] {
  const known = countKnown
    ? 'within a factor of 1.5 (common practice)'
    : 'within a factor of 3: no count is known for it, the model rests on assumptions'
  const guess = 'the model says that it never starts, yet it has sent: the model is wrong there, and this a guess'
  const lines = [
    refuted
      ? `${tame(label)}: ${guess}`
      : `${tame(label)}: the model says ${atLeast ? 'at least ' : ''}${modelMedian.toFixed(0)} sends, nine times in ten ${known}`,
    ...(scaled ? ['  the model differs from opening to opening; lives are scaled to this one'] : []),
  ]
  const deaths = lives.filter(life => !('runningAt' in life)).length
  if (deaths === 0) return lines
  const fit = fitLifetimes(lives)
  if ('reason' in fit) return [...lines, `  lives counted here alone: ${fit.reason}`]
  const median = fit.scale * Math.LN2 ** (1 / fit.shape)
  const [low, high] = fit.profileIntervals.shape
  return [
    ...lines,
    `  ${lives.length} lives counted here, ${deaths} ended by failure: half last ${median.toFixed(0)} sends, one in ten fails by ${fit.b10.toFixed(0)}`,
    `  (Weibull, maximum likelihood: shape ${fit.shape.toFixed(1)}, 95 % ${low.toFixed(1)} to ${high.toFixed(1)})`,
  ]
}

function proofLines(rows: readonly CellForecast[], accept: number): string[] {
  const cells = rows.flatMap(({ opening, proof }) =>
    proof
      ? [
          [
            opening.mark,
            opening.name,
            proof.testsPerYear.toFixed(1),
            proof.calendarTestsPerYear.toFixed(1),
            proof.extraCellsPerYear.toFixed(2),
            `${proof.meanUnnoticedDays.toFixed(0)} days`,
          ],
        ]
      : [],
  )
  return [
    `So that a dead contact stays unnoticed for at most ${accept} days, test it when ${accept} days have passed without a word:`,
    '',
    ...columns([
      ['mark', 'name', 'tests a year', 'by the calendar', 'cells a year for it', 'unnoticed on average'],
      ...cells,
    ]),
    '',
    'A natural opening that gets through is a proof and saves a test. Testing later breaks the promise, sooner spends sends.',
  ]
}
