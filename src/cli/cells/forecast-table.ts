import { fitLifetimes } from '../../budget/lives/fit-lifetimes.ts'
import type { Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import type { CellForecast } from './cell-forecasts.ts'
import { chanceText, leftText, restsText } from './left-text.ts'
import type { KindLives } from './lives.ts'

/** The forecast as a person reads it: a row an opening, most urgent first, then what it rests on. */
export function forecastTable(
  register: Register,
  rows: readonly CellForecast[],
  kinds: readonly KindLives[],
  accept: number | undefined,
): string {
  if (rows.length === 0) return `${tame(register.house)}: no opening runs on a cell\n`
  const marks: string[] = []
  const cells = rows.map(row => {
    const { opening, reading, left } = row
    const sign = left?.ifRunning ? '?' : ''
    if (sign) marks.push(opening.mark)
    return [
      opening.mark,
      opening.name,
      `${reading.sends}${row.sentBefore ? '+' : ''}`,
      left ? `${leftText(left)}${sign}` : 'not known',
      left ? chanceText(left.next) : '',
      left ? (left.neverLow ? '-' : String(left.untilLow)) : '',
      dueText(row, register.timezone),
      left ? restsText(left.restsOn) : `no model of a ${opening.sender.cell}`,
      remarks(row),
    ]
  })
  const heads = ['mark', 'name', 'sent', 'left', 'next', 'low in', 'test or change by', 'rests on', '']
  const lines = [
    `${tame(register.house)}: openings left in each cell, the most urgent first`,
    '',
    ...columns([heads, ...cells]),
    '',
    'left: middle value, and the range that holds nine times in ten. next: the chance that the next opening gets through.',
    'low in: further openings until that chance falls under replaceBelow, if all get through; - where it does not while the',
    'cell is likely to last. test or change by: looked at from today, the day from which an opening gets through with less',
    'than replaceBelow; each word heard moves it.',
  ]
  if (rows.some(row => row.sentBefore)) {
    lines.push(
      '+ it may have sent more before the count began: a guess from cellFitted and openingsPerYear, where they are given.',
    )
  }
  if (marks.length) {
    lines.push(
      `? silent for longer than its openings explain: if ${marks.length === 1 ? 'it still runs' : 'they still run'}. Test ${marks.join(', ')}.`,
    )
  }
  lines.push('', ...kinds.flatMap(kindLines))
  if (accept !== undefined) lines.push('', ...proofLines(rows, accept))
  lines.push('', CELL_CAUTION)
  return `${lines.join('\n')}\n`
}

function dueText({ left, reading }: CellForecast, timezone: string): string {
  if (reading.doubts.includes('spent')) return 'change now'
  if (left?.ifRunning) return 'test now'
  if (reading.doubts.includes('low')) return 'now'
  if (left?.changeBy === undefined) return left ? 'no rate known' : ''
  const parts = new Intl.DateTimeFormat('en-GB', {
    timeZone: timezone,
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
  })
  const part = Object.fromEntries(parts.formatToParts(left.changeBy).map(({ type, value }) => [type, value]))
  return `${part.year}-${part.month}-${part.day}`
}

function remarks({ reading, slowJoin }: CellForecast): string {
  const told = reading.doubts.filter(
    doubt => doubt === 'spent' || doubt === 'faint' || doubt === 'low' || doubt === 'untested',
  )
  return [...told, ...(slowJoin ? ['slow to join: test it'] : [])].join(', ')
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
