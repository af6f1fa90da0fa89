import { TEMPERATURE } from '../../budget/circuit/ageing.ts'
import { CELLS } from '../../budget/circuit/cells.ts'
import { LOADS } from '../../budget/circuit/loads.ts'
import { PLACES, SOLVES } from '../../budget/types.ts'
import { define } from '../program/command.ts'
import { type Kind, number, oneOf, path, quantity, text } from '../program/kinds.ts'
import { flag, inputFile, option } from '../program/option.ts'
import { TALLY_OPTIONS } from '../store/options.ts'

export const forecast = define({
  name: 'forecast',
  summary: 'Say which cell to test or to change, in which room, by when and why.',
  args: { file: inputFile },
  options: {
    ...TALLY_OPTIONS,
    acceptDays: option(number({ least: 1, most: 3650 }), {
      value: 'days',
      text: 'days a dead contact may stay unnoticed; default: provenWithinDays',
    }),
    sender: option(text, { value: 'name', text: 'the kind of contact to plot; default: the one with most openings' }),
    plot: option(path, { value: 'file', text: "survival of the cells as SVG, with the house's own cells on it" }),
    figures: flag({ text: 'show the figures behind it too' }),
    json: flag({ text: 'print the figures as JSON' }),
  },
  examples: [
    'sashtally forecast examples/ropewalk.yaml',
    'sashtally forecast examples/ropewalk.yaml --accept-days 60 --json',
  ],
  next: 'sashtally say FILE MARK cell-fitted when a cell was changed',
})

const MOST_A_YEAR = 1_000_000
const LEAST_A_YEAR = 0.01
const openingsPerYear: Kind<number> = {
  read: given => {
    const reading = number({ most: MOST_A_YEAR }).read(given)
    return 'value' in reading && (reading.value === 0 || reading.value >= LEAST_A_YEAR)
      ? reading
      : { wants: `a number a year: 0, or from ${LEAST_A_YEAR} to ${MOST_A_YEAR}` }
  },
}
const ohms = (least: number): Kind<number> => quantity('ohm', { bare: 1, least, most: 1e9 })

export const budget = define({
  name: 'budget',
  summary: 'Say how many openings a cell gives, what ends it, and what a change would bring.',
  args: { file: inputFile },
  options: {
    sender: option(text, {
      value: 'name',
      text: 'the kind of contact; may be left out where only one runs on a cell',
    }),
    load: option(oneOf(LOADS.map(({ name }) => name)), { value: 'name', text: 'change the load' }),
    cell: option(oneOf(CELLS.map(({ name }) => name)), { value: 'name', text: 'change the cell' }),
    reservoir: option(quantity('F', { least: 1e-9, most: 1000 }), {
      value: 'farads',
      text: 'add a capacitor, such as 47mF',
    }),
    place: option(oneOf(PLACES), { value: 'place', text: 'where it sits' }),
    reservoirOhms: option(ohms(0), { value: 'ohms', text: 'its series resistance' }),
    bleed: option(ohms(1), { value: 'ohms', text: 'a resistor across it, behind the reed' }),
    lamp: option(quantity('A', { bare: 1e-3, most: 10 }), {
      value: 'milliamps',
      text: 'a lamp that is on while open, such as 3mA',
    }),
    openMinutes: option(number({ most: 1440 }), { value: 'minutes', text: 'minutes a day that it stands open' }),
    openings: option(openingsPerYear, { value: 'count', text: 'openings a year' }),
    reset: option(quantity('V', { bare: 1, least: 0.1, most: 10 }), {
      value: 'volts',
      text: 'the volts at which the module resets',
    }),
    temperature: option(number({ least: TEMPERATURE.lowest, most: TEMPERATURE.highest }), {
      value: 'degrees',
      text: 'degrees Celsius at the contact',
    }),
    calibrate: option(number({ least: 1 }), {
      value: 'count',
      text: 'openings that your own cells gave with what the register says',
    }),
    solve: option(oneOf(SOLVES), {
      value: 'figure',
      text: 'what such a count tells: how fast the volts fall, or the resistance; default: ageing',
    }),
    plot: option(path, { value: 'file', text: 'draw volts against openings as SVG' }),
    json: flag({ text: 'print the figures as JSON; a bound that nobody knows is left out' }),
  },
  examples: [
    'sashtally budget examples/ropewalk.yaml --sender coin',
    'sashtally budget examples/ropewalk.yaml --sender coin --load cached-join --plot budget.svg',
    'sashtally budget examples/ropewalk.yaml --sender coin --reservoir 47mF --place before-reed --json',
    'sashtally budget examples/ropewalk.yaml --sender coin --calibrate 14 --solve resistance',
  ],
  next: 'sashtally suit judges every opening',
})

export const suit = define({
  name: 'suit',
  summary: 'Say which openings a contact on a cell suits, how often its cell is changed, and what would do instead.',
  args: { file: inputFile },
  options: {
    changes: option(number(), { value: 'count', text: 'cell changes a year that you accept', fallback: '2' }),
    ...TALLY_OPTIONS,
    tally: option(path, { value: 'file', text: 'count how often each is opened from this tally' }),
    json: flag({ text: 'print the figures as JSON; a bound that nobody knows is left out' }),
  },
  examples: [
    'sashtally suit examples/ropewalk.yaml',
    'sashtally suit examples/ropewalk.yaml --changes 4',
    'sashtally suit examples/ropewalk.yaml --data /var/lib/sashtally',
  ],
  next: 'sashtally parts says how much to buy',
})

export const assign = define({
  name: 'assign',
  summary: 'Say which module serves which opening best, from bench join times and how often each is opened.',
  args: { file: inputFile },
  options: {
    ...TALLY_OPTIONS,
    tally: option(path, {
      value: 'file',
      text: 'the tally: one entry a line; it holds join times, openings and cells',
    }),
    cells: flag({ text: 'also say which part-used cells to move' }),
    json: flag({ text: 'print the figures as JSON' }),
  },
  examples: ['sashtally assign examples/ropewalk.yaml'],
  next: 'sashtally prove notes how long a join takes',
})

export const parts = define({
  name: 'parts',
  summary: 'Say how many modules, cells, reeds, magnets and resistors to buy so that enough of them work.',
  args: { file: inputFile },
  options: {
    confidence: option(number({ isAboveLeast: true, most: 0.999 }), {
      value: 'chance',
      text: 'chance that it suffices',
      fallback: '0.95',
    }),
    ...TALLY_OPTIONS,
    tally: option(path, { value: 'file', text: 'learn from the bench results in this tally' }),
    json: flag({ text: 'print the figures as JSON' }),
  },
  examples: ['sashtally parts examples/ropewalk.yaml', 'sashtally parts examples/ropewalk.yaml --confidence 0.99'],
  next: 'sashtally manual fitting, before reeds are bought',
})
