import * as z from 'zod/mini'
import { ENDS, PLACES, STATUSES } from '../../budget/types.ts'
import { amount, map, oneOf, only, time } from '../../protocol/parts.ts'
import { flag, list, optional, range, said, words } from './parts.ts'

/** What the budget is told of a kind of contact, and what it answers. */

const number = z.number()

export const figure = map({
  name: words,
  value: number,
  unit: words,
  status: oneOf(STATUSES),
  source: words,
  withinFactor: said(optional(amount), 'Of an ageing: its 90 % range.'),
  knownVolts: said(optional(amount), 'Of an ageing: rested volts down to which it is known.'),
})

const phase = map({
  name: optional(words),
  milliamps: amount,
  milliseconds: amount,
  burst: optional(map({ milliamps: amount, milliseconds: amount, everyMilliseconds: amount })),
})

export const cellModel = map({
  name: words,
  newVolts: figure,
  seriesOhms: figure,
  polarisationOhms: optional(amount),
  polarisationFarads: optional(amount),
  capacityMilliampHours: figure,
  selfDischargePerYear: figure,
  ageing: said(optional(figure), 'Rested volts lost for each mAh drawn hard; without it the table decides.'),
  voltsByDepth: optional(map({ points: list(z.tuple([amount, amount])), source: figure })),
  anchor: said(
    optional(map({ sends: amount, load: list(phase), resetVolts: amount, voltsPerMilliampHour: amount })),
    'The count that fixed seriesOhms.',
  ),
  note: optional(words),
})

const reservoir = map({
  farads: amount,
  place: oneOf(PLACES),
  ohms: optional(amount),
  leakMicroamps: optional(amount),
  startVolts: optional(amount),
  bleedOhms: optional(amount),
})

export const budgetSender = map({
  cell: optional(z.union([words, cellModel])),
  load: optional(z.union([words, list(phase)])),
  resetVolts: optional(amount),
  openMinutes: optional(amount),
  openingsPerYear: optional(amount),
  lampMilliamps: optional(amount),
  sleepMicroamps: optional(amount),
  temperatureCelsius: optional(number),
  seasonCelsius: optional(map({ january: number, july: number })),
  fittedAt: optional(time),
  idleYears: optional(amount),
  sendsPerOpening: optional(amount),
  reservoir: optional(reservoir),
})

const inrush = map({
  amps: amount,
  resistor: said(
    optional(map({ ohms: amount, place: oneOf(['with-reservoir', 'with-reed']), openings: amount })),
    'Where the reed would carry too much: what tames it, and the openings that it leaves.',
  ),
})

export const eventBudget = map({
  openings: range,
  atLeast: said(flag, 'The model leaves what is known: the openings are lower bounds.'),
  countKnown: said(flag, 'Whether a count is known in the trade for this cell and load.'),
  byMonth: said(
    optional(list(amount)),
    'With seasonCelsius: openings at the temperature of each month all the year, January first.',
  ),
  endedBy: oneOf(ENDS),
  hardMilliampHours: said(amount, 'Charge drawn awake until the end.'),
  parts: said(list(map({ name: words, milliampHours: amount })), 'Where all charge goes.'),
  sensitivity: list(map({ name: words, limits: words, worse: amount, better: optional(amount) })),
  volts: map({ reset: number, newMinimum: number, endMinimum: number, endRested: number }),
  burstsRefuted: said(optional(only(true)), 'Its bursts could not start by the model, which is wrong there.'),
  openHoursToEmpty: said(optional(amount), 'Hours open in one go that empty the cell; absent: no bound.'),
  holdUpSeconds: said(
    optional(amount),
    'After the reed: how long a closed window’s module stays asleep on the reservoir.',
  ),
  inrush,
  warnings: list(words),
  restsOn: list(figure),
  method: words,
})
