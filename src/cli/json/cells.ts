import * as z from 'zod/mini'
import { ENDS, SOLVES } from '../../budget/types.ts'
import { amount, anyTime, count, map, mark, oneOf, only, type Plain, time, upTo } from '../../protocol/parts.ts'
import { DOUBTS, restsOnSchema } from '../../protocol/reading.ts'
import { budgetSender, cellModel, eventBudget } from './models.ts'
import { flag, interval, list, optional, range, said, unknownBefore, words } from './parts.ts'

const column = map({ sender: budgetSender, budget: eventBudget, hardPerOpening: said(amount, 'mAh.') })

export const budgetSchema = map({
  answer: said(words, 'In a sentence.'),
  sender: words,
  used: said(count, 'How many openings of the register use it.'),
  now: column,
  after: said(optional(column), 'With what the options change.'),
  idle: said(list(words), 'Of several changes, those that bring nothing beside the others.'),
  calibration: optional(
    map({
      solve: oneOf(SOLVES),
      openings: amount,
      voltsPerMilliampHour: amount,
      effectiveOhms: amount,
      endRestedVolts: amount,
      cell: cellModel,
      against: list(map({ what: words, here: words, published: words, agrees: flag, source: words })),
    }),
  ),
  improvements: said(
    list(
      map({
        text: words,
        short: words,
        needsPart: flag,
        openings: range,
        atLeast: flag,
        shelfOpenings: said(optional(amount), 'Openings until its shelf life ends the cell.'),
        times: said(optional(amount), 'How many times as many openings.'),
        warnings: list(words),
      }),
    ),
    'Single changes that bring more openings, the best first.',
  ),
})
export type BudgetJson = Plain<typeof budgetSchema>

const cellsPerYear = said(
  map({ p05: optional(amount), p50: amount, p95: amount }),
  'p05 is the good end; absent where the model is a lower bound of what a cell gives.',
)

export const suitSchema = map({
  changesPerYear: amount,
  openings: list(
    map({
      mark,
      name: words,
      sender: words,
      openingsPerYear: optional(amount),
      isCounted: said(optional(flag), 'A tally has counted them.'),
      verdict: oneOf(['suits', 'does not suit', 'not known']),
      cellsPerYear: optional(cellsPerYear),
      openings: optional(range),
      endedBy: optional(oneOf(ENDS)),
      atLeast: optional(flag),
      reasons: list(words),
      warnings: list(words),
      ways: said(
        list(
          map({
            change: oneOf(['load', 'cell', 'load and cell', 'reservoir', 'lamp', 'mains']),
            text: words,
            cellsPerYear: optional(cellsPerYear),
            atLeast: optional(flag),
          }),
        ),
        'Changes that would do, the smallest first.',
      ),
    }),
  ),
})
export type SuitJson = Plain<typeof suitSchema>

const move = { mark, from: said(mark, 'Where it comes from.') }
const modulesPerYear = map({ p05: amount, p50: amount, p95: amount })

export const assignSchema = map({
  house: words,
  modules: list(
    map({
      sender: words,
      joins: list(map({ mark, joinMilliseconds: amount, openingsPerYear: amount })),
      unproved: said(list(mark), 'Left out: no join time from the bench.'),
      moves: list(map(move)),
      cellsPerYear: map({ now: modulesPerYear, best: modulesPerYear, atMost: optional(only(true)) }),
    }),
  ),
  cells: said(
    optional(
      list(
        map({
          cells: list(map({ mark, sends: count, before: optional(unknownBefore) })),
          moves: list(map({ ...move, sends: count, before: optional(unknownBefore) })),
          spentWithinYear: map({ now: amount, best: amount }),
        }),
      ),
    ),
    'With --cells.',
  ),
})
export type AssignJson = Plain<typeof assignSchema>

export const partsSchema = map({
  confidence: upTo(1),
  parts: list(map({ part: words, need: count, buy: count, restsOn: words, price: optional(amount) })),
  sum: said(optional(amount), 'Where the register has prices.'),
  unpriced: optional(list(words)),
})
export type PartsJson = Plain<typeof partsSchema>

const life = said(
  z.union([
    map({ failedAt: amount }),
    map({ failedBetween: z.tuple([amount, amount]) }),
    map({ runningAt: amount, silence: optional(upTo(1)) }),
  ]),
  'In sends; a dead contact is only known to lie between two tries.',
)
const fit = z.union([
  map({
    shape: amount,
    scale: amount,
    logLikelihood: z.number(),
    aic: z.number(),
    shapeInterval: interval,
    scaleInterval: interval,
    profileIntervals: map({ shape: interval, scale: interval }),
    b10: said(amount, 'Life by which one in ten has failed.'),
  }),
  map({ reason: said(words, 'Why there is no fit.') }),
])
const proof = map({
  everyDays: said(optional(amount), 'Test when so many days have passed since the last word that got through.'),
  testsPerYear: amount,
  calendarTestsPerYear: amount,
  testShare: said(amount, 'Share of the cell’s sends that go into tests.'),
  cellsPerYear: amount,
  extraCellsPerYear: amount,
  meanUnnoticedDays: amount,
  untestedChance: upTo(1),
  untestedAfterDays: optional(amount),
})

const due = { by: time, from: time, to: said(optional(time), 'Absent where more may be left than the model knows.') }

export const forecastSchema = map({
  house: words,
  asOf: time,
  emptyDays: said(optional(amount), 'Nothing at all was heard for so long: the house is empty, or cut off.'),
  openings: list(
    map({
      mark,
      name: words,
      doubts: list(oneOf(DOUBTS)),
      openings: count,
      sends: count,
      countedSince: said(optional(anyTime), 'Sends before this time are unknown.'),
      sentBefore: said(flag, 'The cell has sent before the count began.'),
      left: said(optional(range), 'Openings left; a dead cell counts as 0.'),
      alive: said(optional(upTo(1)), 'Chance that the cell still runs.'),
      next: said(optional(upTo(1)), 'Chance that the next opening gets through.'),
      untilLow: said(optional(amount), 'Further openings until the cell is to be changed.'),
      neverLow: optional(only(true)),
      countOn: said(optional(amount), 'Further openings that all get through with the chance replaceBelow.'),
      changeBy: optional(time),
      limit: said(
        optional(
          map({
            end: oneOf(['low', 'empty', 'shelf']),
            by: time,
            from: optional(time),
            to: optional(time),
            before: said(optional(map({ ...due, end: oneOf(['low', 'empty']) })), 'What the shelf life comes before.'),
          }),
        ),
        'What ends its use, by when, and its 90 % range; the shelf life has none.',
      ),
      silence: optional(map({ days: amount, usualDays: amount })),
      atLeast: optional(only(true)),
      restsOn: optional(restsOnSchema),
      slowJoin: said(flag, 'First words have become slower.'),
      proof: said(optional(proof), 'How often to test it, and what that costs.'),
    }),
  ),
  kinds: list(
    map({
      label: said(words, 'Cell and load.'),
      modelMedian: amount,
      countKnown: flag,
      atLeast: optional(only(true)),
      marks: list(mark),
      lives: list(life),
      scaled: optional(only(true)),
      fit,
    }),
  ),
})
export type ForecastJson = Plain<typeof forecastSchema>
