import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import type { BudgetSender } from '../../src/budget/types.ts'
import { improvementsOf } from '../../src/cli/cells/budget-improvements.ts'
import { plotSvg, ticks } from '../../src/cli/cells/plot.ts'
import { cli } from '../../src/cli/cli.ts'
import { quantity } from '../../src/cli/program/kinds.ts'
import { EXIT } from '../../src/cli/world.ts'
import { type TestWorld, testWorld } from './test-world.ts'

const REGISTER = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room, south', sender: coin, openingsPerYear: 120 }
  - { mark: W02, name: Press room, sender: coin, openingsPerYear: 10 }
  - { mark: W03, name: Attic studio, sender: coin }
  - { mark: H01, name: Coal hatch, sender: coin, openingsPerYear: 6, temperatureCelsius: 8 }
  - { mark: D01, name: Yard door, sender: yard, openingsPerYear: 4000 }
`

let folder: string
let world: TestWorld
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-budget-'))
  await writeFile(join(folder, 'house.yaml'), REGISTER)
})
afterEach(() => rm(folder, { recursive: true, force: true }))

async function run(...words: string[]): Promise<number> {
  world = testWorld({ cwd: folder })
  return await cli(words, world)
}
const budget = (...words: string[]): Promise<number> => run('budget', 'house.yaml', ...words)

describe('sashtally budget', () => {
  test('shows before and after side by side, with ranges and what they rest on', async () => {
    expect(await budget('--sender', 'coin', '--load', 'cached-join')).toBe(EXIT.fine)
    const out = world.out()
    expect(out).toMatch(/^ +now +after$/m)
    expect(out).toMatch(/^openings +20 \(6 to 46\) +63 \(14 to 244\)$/m)
    expect(out).toMatch(/^ended by +volts under load +volts under load$/m)
    for (const part of ['boot', 'join', 'publish', 'asleep']) expect(out).toMatch(new RegExp(`^  ${part} +.*mAh`, 'm'))
    expect(out).toContain('resistance 5 %: 52.4 to 74.6')
    expect(out).toContain('common practice: rested volts lost for hard charge 0.12 V per mAh')
    expect(out).toContain('What helps most, one change at a time:')
  })

  test('one sentence first: whether it helps, and what helps most from there', async () => {
    const answer = async (...words: string[]): Promise<string> => {
      expect(await budget(...words)).toBe(EXIT.fine)
      return world.out().split('\n')[0]!
    }
    expect(await answer('--reservoir', '47mF')).toBe(
      'no: 20 before, 20 after; a shorter join helps most, without another part',
    )
    expect(await answer('--load', 'fast-join', '--openings', '400')).toBe(
      'yes: 20 before, 471 after; the cell CR123A helps most',
    )
    expect(await answer('--load', 'cached-join')).toMatch(/^yes: 20 before, 63 after; a shorter join helps most$/)
    expect(await answer('--load', 'fast-join')).toBe('yes: 20 before, 100 by its shelf life after')
    expect(await answer('--cell', 'CR123A', '--openings', '40')).toBe('yes: 20 before, 400 by its shelf life after')
    expect(await answer('--reservoir', '47mF', '--place', 'after-reed')).toMatch(/^no, fewer: 20 before, 1\d after; /)
    expect(await answer('--reservoir', '47mF', '--bleed', '1kohm')).toMatch(/^no, fewer: .*; no reservoir helps most$/)
    expect(await answer('--reset', '3.1')).toMatch(/^no, fewer: 20 before, none, it never starts, after/)
    expect(await answer()).toBe('20 (6 to 46) openings of one cell; a shorter join helps most')
    expect(await budget('--reset', '2.4', '--json')).toBe(EXIT.fine)
    expect(JSON.parse(world.out()).answer).toBe('no: 20 before, 20 after; a shorter join helps most')
  })

  test('what helps most is worked out from the changed state', async () => {
    expect(await budget('--load', 'cached-join', '--lamp', '3mA', '--open-minutes', '480')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^ {2}no lamp: /m)
    expect(world.out()).not.toMatch(/^ {2}load cached-join/m)
  })

  test('the kind of contact may be left out where only one runs on a cell; one cold opening does not speak for it', async () => {
    expect(await budget()).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^openings +20 \(6 to 46\)$/m)
    expect(world.out()).not.toMatch(/^ +now +after$/m)
    expect(world.out()).toContain('4 openings use this kind')
  })

  test('a reservoir, a lamp and minutes a day are worked in', async () => {
    const words = ['--reservoir', '47mF', '--place', 'after-reed', '--lamp', '3mA', '--open-minutes', '480', '--json']
    expect(await budget(...words)).toBe(EXIT.fine)
    const { after } = JSON.parse(world.out())
    expect(after.sender.reservoir).toEqual({ farads: 0.047, place: 'after-reed' })
    expect(after.sender.lampMilliamps).toBeCloseTo(3, 12)
    // The middle rate of the openings that give one is 10 a year; 480 minutes a day are 292 hours for each of them.
    expect(after.sender.openMinutes).toBeCloseTo((480 * 365.25) / 10, 6)
    expect(after.budget.openHoursToEmpty / 24).toBeCloseTo(3.26, 1)
    expect(await budget('--reservoir', '47mF', '--place', 'after-reed')).toBe(EXIT.fine)
    expect(world.out()).toContain('a reopening in that time is not sent')
  })

  test('where the model leaves what is known the answer is at least', async () => {
    expect(
      await budget('--load', 'fast-join', '--reservoir', '47mF', '--place', 'before-reed', '--openings', '2000'),
    ).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^openings +20 \(6 to 46\) +at least \d+ \(at worst \d+\)$/m)
    expect(world.out()).toContain('the count is a lower bound')
  })

  test('calibrates from a count and says where it disagrees with published figures', async () => {
    expect(await budget('--calibrate', '30')).toBe(EXIT.fine)
    expect(world.out()).toContain('30 openings mean 0.0800 V lost for each mAh')
    expect(world.out()).toMatch(/^openings +30 /m)
    expect(world.out()).toContain('disagrees  resistance 9.33 ohm, published 18 to 30 ohm')
    expect(await budget('--calibrate', '1000000')).toBe(EXIT.input)
    expect(world.err()).toContain('mAh of capacity would be gone before')
  })

  test('a count tells the resistance where it is asked to', async () => {
    expect(await budget('--calibrate', '12', '--solve', 'resistance')).toBe(EXIT.fine)
    // 3.2 V less 12 x 83.3 uAh x 0.12 V per mAh, less 2.3 V, through 75 mA.
    expect(world.out()).toContain('12 openings mean 10.40 ohm, at 0.120 V lost for each mAh')
    expect(world.out()).toMatch(/^openings +12 /m)
    expect(await budget('--solve', 'resistance')).toBe(EXIT.usage)
    expect(await budget('--calibrate', '12', '--solve', 'weather')).toBe(EXIT.usage)
  })

  test('after a calibration a change is another cell or load, and other coin cells age as the count says', async () => {
    expect(await budget('--calibrate', '30', '--json')).toBe(EXIT.fine)
    const { improvements } = JSON.parse(world.out()) as { improvements: { text: string; openings: { p50: number } }[] }
    const medianOf = (text: string) => improvements.find(one => one.text.startsWith(text))?.openings.p50
    expect(medianOf('cell CR2032')).toBeUndefined()
    // Ageing goes with 1 / capacity: 30 openings times 550 / 235.
    expect(medianOf('cell CR2450')).toBeCloseTo((30 * 550) / 235, 3)
    expect(await budget('--calibrate', '30', '--cell', 'CR2450')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^openings +30 .* +70 \(/m)
  })

  test('no more is claimed than a cell keeps, and what is to be watched stands below each change', async () => {
    expect(await budget('--openings', '40')).toBe(EXIT.fine)
    const out = world.out()
    expect(out).toMatch(/cell CR123A: \d+ in the 10 years of its shelf life \(from memory\), which ends it first, \d/)
    // 40 a year are 400 in ten years, 20 times the 20 of a CR2032.
    expect(out).toMatch(/cell CR123A: 400 in .*, 20\.0 times as many$/m)
    expect(out).not.toContain('capacities of single cells')
    expect(out).toMatch(/cell two FR03: .*\n( {4}careful: .*\n)* {4}careful: .*3\.6 V/)
    expect(out).toContain('swallowed, it kills')
  })

  test('JSON has no null: what has no bound is left out', async () => {
    expect(await budget('--reset', '3.1', '--json')).toBe(EXIT.fine)
    expect(world.out()).not.toContain('null')
    expect(await run('suit', 'house.yaml', '--json')).toBe(EXIT.fine)
    expect(world.out()).not.toContain('null')
  })

  test('JSON gives no upper bound to a lower one', async () => {
    await writeFile(join(folder, 'house.yaml'), REGISTER.replace('cold-join', 'cold-join, resetVolts: 2.1'))
    expect(await budget('--json')).toBe(EXIT.fine)
    expect(Object.keys(JSON.parse(world.out()).now.budget.openings)).toEqual(['p05', 'p50'])
    expect(await run('suit', 'house.yaml', '--json')).toBe(EXIT.fine)
    const [first] = JSON.parse(world.out()).openings
    expect(Object.keys(first.openings)).toEqual(['p05', 'p50'])
    expect(Object.keys(first.cellsPerYear)).toEqual(['p50', 'p95'])
    expect(await budget('--plot', 'volts.svg')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^ended by +what is known \(3\.00 V rested\)$/m)
    expect(await readFile(join(folder, 'volts.svg'), 'utf8')).not.toMatch(/NaN|Infinity|undefined/)
  })

  test('a count says nothing of a cell that ends by its charge', async () => {
    await writeFile(join(folder, 'house.yaml'), REGISTER.replace('CR2032', 'CR123A'))
    expect(await budget('--calibrate', '100')).toBe(EXIT.input)
    expect(world.err()).toMatch(/a CR123A ends by its charge: leave --calibrate out/)
  })

  test('draws volts against openings with the reset level and the band', async () => {
    expect(await budget('--load', 'cached-join', '--plot', 'volts.svg')).toBe(EXIT.fine)
    const svg = await readFile(join(folder, 'volts.svg'), 'utf8')
    expect(svg.match(/<polyline/g)).toHaveLength(2)
    expect(svg.match(/<polygon/g)).toHaveLength(2)
    expect(svg).toContain('the module resets at 2.30 V')
    expect(svg).not.toMatch(/NaN|Infinity|undefined/)
  })

  test('wrong use and wrong input are told apart, each with what to do', async () => {
    expect(await budget('--sender', 'yard')).toBe(EXIT.input)
    expect(world.err()).toContain('it is on mains: no cell, no budget; on a cell: "coin"')
    expect(await budget('--sender', '__proto__')).toBe(EXIT.input)
    expect(world.err()).toContain('no such sender')
    expect(await budget('--place', 'before-reed')).toBe(EXIT.usage)
    expect(await budget('--cell', 'CR9')).toBe(EXIT.usage)
    expect(await budget('--reservoir', 'big')).toBe(EXIT.usage)
    expect(await budget('--load', 'warm-join')).toBe(EXIT.usage)
    for (const [option, value, most] of [
      ['--temperature', '99', 'a number from -30 to 60'],
      ['--temperature', '-40', 'a number from -30 to 60'],
      ['--open-minutes', '1441', 'a number from 0 to 1440'],
      ['--reservoir', '1e308F', 'a number with its unit, such as 47mF, from 1e-9 to 1000 F'],
      ['--bleed', '1e300', 'such as 1kohm, from 1 to 1000000000 ohm'],
      ['--lamp', '11A', 'such as 3mA, from 0 to 10 A'],
      ['--reservoir', '1e-15F', 'from 1e-9 to 1000 F'],
      ['--reservoir', '0F', 'from 1e-9 to 1000 F'],
      ['--reset', '0', 'such as 2.3V, from 0.1 to 10 V'],
      ['--openings', '1e-300', 'a number a year: 0, or from 0.01 to 1000000'],
      ['--calibrate', '0', 'a number, 1 or more'],
    ] as const) {
      expect(await budget(option, value)).toBe(EXIT.usage)
      expect(world.err()).toContain(`${option} wants `)
      expect(world.err()).toContain(`${most}; found ${JSON.stringify(value)}`)
    }
    expect(await budget('--openings', '0', '--open-minutes', '480')).toBe(EXIT.usage)
    expect(world.err()).toContain('--open-minutes goes with openings')
    expect(await run('budget', 'none.yaml')).toBe(EXIT.world)
  })
})

test('of several changes the answer names those that add nothing', async () => {
  await budget('--sender', 'coin', '--load', 'cached-join', '--reservoir', '47mF')
  expect(world.out().split('\n')[0]).toMatch(/^yes: 20 before, \d+ after; the reservoir adds nothing;/)
  await budget('--sender', 'coin', '--load', 'cached-join')
  expect(world.out().split('\n')[0]).not.toMatch(/adds nothing/)
})

test('a resistor that leaves no opening is not recommended, and nothing is told in times of next to nothing', () => {
  const strong: BudgetSender = { cell: 'CR123A', load: [{ milliamps: 500, milliseconds: 4000 }] }
  const { warnings } = eventBudget(strong)
  expect(warnings.join()).toMatch(/would tame it, but then the module gets no opening: take a reed that carries it/)
  expect(warnings.join()).not.toMatch(/0 openings then/)
  const hardly: BudgetSender = { temperatureCelsius: 2 }
  for (const { times } of improvementsOf(hardly, eventBudget(hardly), of => of)) expect(times).toBeUndefined()
})

test('a change is told what it brings to be watched, not what is so already', () => {
  const sender = { cell: 'two LR03' }
  const improvements = improvementsOf(sender, eventBudget(sender), of => of)
  const warnings = (cell: string) => improvements.find(({ text }) => text === `cell ${cell}`)?.warnings
  expect(eventBudget({ cell: 'CR123A' }).warnings).toHaveLength(2)
  expect(warnings('CR123A')).toEqual([expect.stringContaining('the reed closes on 4.6 A')])
  expect(warnings('two FR03')?.join()).toContain('3.6 V')
})

describe('a season of temperatures', () => {
  const inSeason = REGISTER.replace('senders:', 'seasonCelsius: { january: 8, july: 22 }\nsenders:')

  test('budget says what each end of it would give, when the cell is fitted, and what has no source', async () => {
    await writeFile(join(folder, 'house.yaml'), inSeason)
    expect(await budget('--sender', 'coin', '--temperature', '21')).toBe(EXIT.fine)
    const out = world.out()
    // 8 C the year round gives (0.9 - 0.075 x 9.33 x 1.195) / 0.01 openings, computed by hand; 22 C is room temperature
    expect(out).toMatch(/^ {2}always as in January +6 \(0 to 19\) +-$/m)
    expect(out).toMatch(/^ {2}always as in July +20 \(6 to 46\) +-$/m)
    const { openings } = eventBudget({
      seasonCelsius: { january: 8, july: 22 },
      fittedAt: new Date(world.now()).toISOString(),
      openingsPerYear: 10,
    })
    expect(out).toMatch(new RegExp(`^openings +${Math.round(openings.p50)} \\(.*\\) +20 \\(6 to 46\\)$`, 'm'))
    expect(await budget('--sender', 'coin', '--calibrate', '14')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/The count is taken for one at room temperature\./)
    expect(world.out()).toMatch(/assumption: month in which the cell is fitted \d+ of 12 .*no source/)
  })

  test('suit says for which day it answers; of a house that is never cold it says nothing of it', async () => {
    await run('suit', 'house.yaml')
    expect(world.out()).toMatch(/The cold counts by our own factors, which have no source/)
    expect(world.out()).not.toMatch(/fitted today/)
    await writeFile(join(folder, 'house.yaml'), inSeason)
    await run('suit', 'house.yaml')
    expect(world.out()).toMatch(/Where it follows the season, cells are taken to be fitted today/)
    await writeFile(join(folder, 'house.yaml'), REGISTER.replace(', temperatureCelsius: 8', ''))
    await run('suit', 'house.yaml')
    expect(world.out()).not.toMatch(/The cold/)
  })
})

describe('sashtally suit', () => {
  test('says for each opening whether its contact suits, and what would do', async () => {
    expect(await run('suit', 'house.yaml')).toBe(EXIT.fine)
    const out = world.out()
    expect(out).toMatch(/^W01 +Dye room, south +coin +does not suit +120 +20 \(6 to 46\) +6\.0 \(2\.6 to 18\)$/m)
    expect(out).toMatch(/^W02 .* suits +10 /m)
    expect(out).toMatch(/^W03 .* not known/m)
    expect(out).toMatch(/^D01 .* suits +4000$/m)
    expect(out).toMatch(
      /would do, with the cells a year:\n {4}load cached-join: 1\.9 \(0\.5 to 8\.3\)\n[\s\S]*a contact on mains/,
    )
    expect(out.indexOf('W01')).toBeLessThan(out.indexOf('W02'))
    expect(out).toMatch(/^H01 Coal hatch: .* at the worse end of the range$/m)
  })

  test('what is accepted can be given, and JSON carries the whole answer', async () => {
    expect(await run('suit', 'house.yaml', '--changes', '6', '--json')).toBe(EXIT.fine)
    const { changesPerYear, openings } = JSON.parse(world.out())
    expect(changesPerYear).toBe(6)
    expect(openings.map((one: { verdict: string }) => one.verdict)).toEqual([
      'suits',
      'suits',
      'not known',
      'suits',
      'suits',
    ])
    expect(await run('suit', 'house.yaml', '--changes', 'few')).toBe(EXIT.usage)
  })
})

describe('suit in the corners', () => {
  const suits = async (coin: string): Promise<string> => {
    await writeFile(join(folder, 'house.yaml'), REGISTER.replace('load: cold-join', coin))
    expect(await run('suit', 'house.yaml')).toBe(EXIT.fine)
    return world.out()
  }
  test('a load that never starts gives no count of cells', async () => {
    const out = await suits('load: cold-join, resetVolts: 3.1')
    expect(out).not.toContain('Infinity')
    expect(out).toMatch(/^W01 .*does not suit .* never starts$/m)
  })
  test('a cell that outlasts its shelf life is changed for that, and an opening that is odd is said', async () => {
    const odd = REGISTER.replace('openingsPerYear: 10 }', 'openingsPerYear: 400, openMinutes: 1440 }')
    await writeFile(join(folder, 'house.yaml'), odd)
    expect(await run('suit', 'house.yaml')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^ {4}cell CR123A: 0\.1, by its shelf life$/m)
    expect(world.out()).toMatch(
      /^W02 Press room: about .*\n {2}careful: 400 openings a year of 1440 minutes .* wrong$/m,
    )
  })
  test('a lower bound of openings is an upper bound of cells', async () => {
    const out = await suits('load: [{ milliamps: 60, milliseconds: 3000 }]')
    expect(out).toMatch(/^W02 .* at least \d+ \(at worst \d+\) +at most 0\.\d+ \(at worst 1\.\d+\)$/m)
  })
  test('says that the worse end of the range is over what is accepted, where the middle is not', async () => {
    await writeFile(join(folder, 'house.yaml'), REGISTER.replace('openingsPerYear: 10', 'openingsPerYear: 40'))
    expect(await run('suit', 'house.yaml')).toBe(EXIT.fine)
    expect(world.out()).toMatch(/^W02 Press room: 2\.0 cells a year, but 6\.\d at the worse end of the range$/m)
    expect(world.out()).toContain('swallowed, it kills')
  })
})

describe('quantities', () => {
  test.each([
    ['47mF', 'F', 0.047],
    ['470 uF', 'F', 470e-6],
    ['0.047F', 'F', 0.047],
    ['3mA', 'A', 0.003],
    ['1kohm', 'ohm', 1000],
    ['2.3V', 'V', 2.3],
  ] as const)('%s is read', (text, unit, value) => {
    expect(quantity(unit).read(text)).toEqual({ value: expect.closeTo(value, 12) })
  })

  test('a bare number needs a unit unless one is usual', () => {
    expect(quantity('A', { bare: 1e-3 }).read('3')).toEqual({ value: expect.closeTo(0.003, 12) })
    for (const wrong of ['47', '3mA', '', 'mF', '47mmF', '-1F', '1e999F']) {
      const reading = quantity('F').read(wrong)
      expect([wrong, reading]).toEqual([
        wrong,
        { wants: expect.stringContaining('a number with its unit, such as 47mF') },
      ])
    }
  })
})

describe('plots', () => {
  test('text of the register cannot break out of the picture', () => {
    const svg = plotSvg({
      title: '<script>alert(1)</script>\u0000',
      x: { label: 'a & b' },
      y: { label: '"y"' },
      series: [
        {
          kind: 'line',
          label: "<i>'",
          points: [
            [0, 1],
            [1, Number.NaN],
            [2, 3],
          ],
        },
      ],
    })
    expect(svg).not.toContain('<script')
    expect(svg).not.toContain('\u0000')
    expect(svg).toContain('a &amp; b')
    expect(svg).not.toContain('NaN')
  })

  test('ticks are round numbers within the axis', () => {
    expect(ticks(0, 100)).toEqual([0, 20, 40, 60, 80, 100])
    expect(ticks(2, 2.7)).toEqual([2, 2.2, 2.4, 2.6])
    expect(ticks(0, 0.0123)).toEqual([0, 0.005, 0.01])
  })
})
