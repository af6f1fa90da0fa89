import { COLD_WITHIN } from '../../budget/lives/cold-weights.ts'
import { fitLifetimes } from '../../budget/lives/fit-lifetimes.ts'
import type { Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import type { CellForecast } from './cell-forecasts.ts'
import { inShort, needOf } from './forecast-needs.ts'
import { chanceText, emptyText, leftText, restsText } from './left-text.ts'
import type { KindLives } from './lives.ts'

/** The forecast as a person reads it: which cell, where, what to do by when, and why; then what it rests on. */
export function forecastTable(
  register: Register,
  rows: readonly CellForecast[],
  kinds: readonly KindLives[],
  {
    accept,
    figures,
    emptyDays,
  }: {
    readonly accept?: number | undefined
    readonly figures?: boolean | undefined
    readonly emptyDays?: number | undefined
  },
): string {
  if (rows.length === 0) return `${tame(register.house)}: no opening runs on a cell\n`
  const kindOf = ({ opening: { mark } }: CellForecast) => kinds.find(({ marks }) => marks.includes(mark))
  const needs = rows.map(row => needOf(row, register.timezone, kindOf(row)))
  const told = rows.map(({ opening: { mark, name, room = '' } }, i) => {
    const { what, by, why } = needs[i]!
    return [mark, name, room, what, by, why]
  })
  const lines = [
    `${tame(register.house)}: what each cell needs, the most urgent first`,
    ...(emptyDays === undefined ? [] : [emptyText(emptyDays)]),
    inShort(rows.map(({ opening }, i) => ({ mark: opening.mark, ...needs[i]! }))),
    '',
    ...columns([['mark', 'name', 'room', 'what', 'by', 'why'], ...told], Number.POSITIVE_INFINITY),
  ]
  if (figures) lines.push('', ...figureLines(rows))
  lines.push('', ...kinds.flatMap(kindLines))
  if (accept !== undefined) lines.push('', ...proofLines(rows, accept))
  lines.push('', CELL_CAUTION)
  return `${lines.join('\n')}\n`
}

/** The figures behind it; `src/manual/forecast.md` says what each of them is. */
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

function kindLines({
  label,
  modelMedian,
  countKnown,
  atLeast,
  refuted,
  lives,
  scaled,
  cold,
  inSeason,
}: KindLives): string[] {
  const known = countKnown
    ? 'within a factor of 1.5 (common practice)'
    : 'within a factor of 3: no count is known for it, the model rests on assumptions'
  const guess = 'the model says that it never starts, yet it has sent: the model is wrong there, and this a guess'
  const lines = [
    refuted
      ? `${tame(label)}: ${guess}`
      : modelMedian < 1
        ? `${tame(label)}: the model lets it start hardly once`
        : `${tame(label)}: the model says ${atLeast ? 'at least ' : ''}${modelMedian.toFixed(0)} sends${inSeason ? ' at room temperature' : ''}, a middle that holds nine times in ten ${known}; single cells spread wider`,
    ...(cold ? [`  the cold counts by our own factors, which have no source, within a factor of ${COLD_WITHIN}`] : []),
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
    `  ${lives.length} lives counted here, ${deaths} ended by failure: half of them give ${median.toFixed(0)} sends or more, one in ten fails by ${fit.b10.toFixed(0)}`,
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
