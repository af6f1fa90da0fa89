import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import type { CellHistory } from '../../src/budget/lives/cell-history.ts'
import { historiesOf, seasonOf } from '../../src/house/cell-histories.ts'
import { forecastOf, leftOf } from '../../src/house/forecast.ts'
import { modelSendsOf } from '../../src/house/model.ts'
import { earsOf, policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { cellsOf } from '../../src/ledger/cells.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'

const register = (text: string) => {
  const { register: parsed, problems } = parseRegister(text)
  if (!parsed) throw new Error(JSON.stringify(problems))
  return parsed
}
const house = (sender: string, opening = '') =>
  register(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { ${sender} }
openings:
  - { mark: W01, name: Dye room, sender: coin${opening} }
  - { mark: W02, name: Press room, sender: coin${opening} }
`)
const COIN = 'reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join'
const DAY = 86_400_000
const START = Date.parse('2026-03-01T00:00:00.000Z')
const at = (day: number): string => new Date(START + day * DAY).toISOString()

/** A cell fitted on the first day, then so many openings, one a day. */
const lived = (mark: string, openings: number): Entry[] => [
  { id: `${mark}c`, at: at(0), mark, what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } },
  ...Array.from(
    { length: openings },
    (_, i): Entry => ({ id: `${mark}${i}`, at: at(i + 1), mark, what: 'opened', how: 'live' }),
  ),
]
const tallied = (from: ReturnType<typeof house>, entries: Entry[]) =>
  applyAll(startLedger(policyOf(from), at(0)), entries)

describe('a register and a ledger together', () => {
  test('a new cell and one after 18 sends read what the prior gives', () => {
    const coin = house(COIN)
    const left = leftOf(coin, tallied(coin, [...lived('W01', 0), ...lived('W02', 18)]), START + 19 * DAY)
    // The two cells share what is learned, so the new one reads a little over the prior's 20 (posterior.test.ts).
    expect(left.W01!.p50).toBeGreaterThan(20)
    expect(left.W01!.p50).toBeLessThan(21.5)
    // A day without a word where one a day is usual: a little may be wrong with it already.
    expect(left.W02!.alive).toBeGreaterThan(0.8)
    expect(left.W02!.alive).toBeLessThan(0.95)
    // Alone it would read 0.931 and 8.44 (posterior.test.ts); that it may be dead already lowers the middle.
    expect(left.W02!.next / left.W02!.alive!).toBeCloseTo(0.931, 2)
    expect(left.W02!.p50).toBeLessThan(8.44)
    expect(left.W02!.p05).toBe(0)
    expect(left.W02!.restsOn).toEqual({ source: 'practice', cells: 1, deaths: 0 })
  })
  test('first words that come later and later warn early, and a new module begins its own row', () => {
    const coin = house(COIN)
    const seconds = [3.6, 3.7, 3.65, 3.8, 3.9, 4.1, 4.5, 4.8, 5.4, 6]
    const proofs = seconds.map(
      (each, i): Entry => ({
        id: `p${i}`,
        at: at(i + 1),
        mark: 'W01',
        what: 'proved',
        how: 'live',
        text: 'bench',
        joinMilliseconds: each * 1000,
      }),
    )
    const slowOf = (entries: Entry[]) => leftOf(coin, tallied(coin, entries), START + 20 * DAY).W01!.slowJoin
    // Medians by hand: 3.7 s of the earliest five, 5.4 s of the newest three.
    expect(slowOf(proofs)).toEqual({ ratio: expect.closeTo(5.4 / 3.7, 9), words: 10 })
    expect(slowOf([...proofs].reverse().map((entry, i) => ({ ...entry, at: at(i + 1) })))).toBeUndefined()
    expect(
      slowOf([...proofs, { id: 'm', at: at(11), mark: 'W01', what: 'module-fitted', how: 'live' }]),
    ).toBeUndefined()
    const undone = proofs
      .slice(7)
      .map(({ id }): Entry => ({ id: `u${id}`, at: at(12), mark: 'W01', what: 'undone', how: 'live', undoes: id }))
    expect(slowOf([...proofs, ...undone])).toBeUndefined()
    expect(slowOf(proofs.map(entry => ({ ...entry, what: 'failed' })))).toBeUndefined()
    // Long ago does not fall out of sight: the earliest five stay, however many follow.
    const many = Array.from(
      { length: 300 },
      (_, i): Entry => ({ ...proofs[0]!, id: `q${i}`, at: at(11 + i / 100), joinMilliseconds: 6000 + i }),
    )
    expect(slowOf([...proofs, ...many])).toEqual({ ratio: expect.closeTo(6.298 / 3.7, 9), words: 16 })
  })
  test('the model of a cold join is about 20 sends', () => {
    expect(modelSendsOf(house(COIN).openings[0]!)).toBeCloseTo(20, 6)
    expect(policyOf(house(COIN)).W01!.modelSends).toBeCloseTo(20, 6)
  })
  test('a death in one opening shortens the others, and rests on the house', () => {
    const coin = house(COIN)
    const died: Entry[] = [...lived('W01', 8), { id: 'f', at: at(9), mark: 'W01', what: 'failed', how: 'live' }]
    const ledger = tallied(coin, [...died, ...lived('W02', 2)])
    const before = leftOf(coin, tallied(coin, [...lived('W01', 8), ...lived('W02', 2)]), START + 10 * DAY)
    const left = leftOf(coin, ledger, START + 10 * DAY)
    expect(left.W02!.p50).toBeLessThan(before.W02!.p50)
    expect(left.W02!.restsOn).toEqual({ source: 'house', cells: 2, deaths: 1 })
    expect(left.W01).toMatchObject({ p05: 0, p50: 0, p95: 0, next: 0 })
    expect(read(ledger, START + 10 * DAY, undefined, left)[0]!.doubts).toContain('spent')
  })
  test('a cell fitted before counting began has a wider range', () => {
    const known = house(COIN)
    const old = house(COIN, ', cellFitted: 2025-03-01, openingsPerYear: 6')
    const entries = lived('W01', 3).slice(1)
    const width = (from: typeof known, list: Entry[]) => {
      const { p05, p50, p95 } = leftOf(from, tallied(from, list), START + 5 * DAY).W01!
      return (p95 - p05) / p50
    }
    expect(width(old, entries)).toBeGreaterThan(width(known, lived('W01', 3)))
    const leftIn = (from: typeof known, list: Entry[]) => leftOf(from, tallied(from, list), START + 5 * DAY).W01
    expect(leftIn(old, entries)).toMatchObject({ sentBefore: true })
    expect(leftIn(known, lived('W01', 3))).not.toHaveProperty('sentBefore')
  })
  test('a cell that died after three counted sends is no short life where nobody counted the first ones', () => {
    const coin = house(COIN)
    const died: Entry[] = [
      ...lived('W01', 3).slice(1),
      { id: 'f', at: at(4), mark: 'W01', what: 'failed', how: 'live' },
      { id: 'n', at: at(5), mark: 'W01', what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } },
    ]
    const counted: Entry[] = [lived('W01', 0)[0]!, ...died]
    const median = (entries: Entry[]) => leftOf(coin, tallied(coin, entries), START + 6 * DAY).W01!.p50
    expect(median(died)).toBeGreaterThan(median(counted) + 1)
  })
  test('a cell that a person says was fitted before counting began was not counted from new', () => {
    const coin = house(COIN, ', openingsPerYear: 6')
    const fitted = (day: number): Entry => ({ ...lived('W01', 0)[0]!, at: at(day), how: 'said' })
    const ledger = (day: number) => tallied(coin, [fitted(day), ...lived('W01', 3).slice(1)])
    const width = (day: number): number => {
      const { p05, p50, p95 } = leftOf(coin, ledger(day), START + 5 * DAY).W01!
      return (p95 - p05) / p50
    }
    expect(width(-365)).toBeGreaterThan(width(0) * 1.1)
    expect(width(-0.5)).toBe(width(0))
    expect(read(ledger(-365), START + 5 * DAY)[0]).toMatchObject({ sends: 3, countedSince: at(0) })
    expect(cellsOf(ledger(-365), START + 5 * DAY)[0]).toMatchObject({ counted: false, countedSince: at(0) })
  })
  test('nor was one that has come out again', () => {
    const coin = house(COIN)
    const entries: Entry[] = [
      { ...lived('W01', 0)[0]!, at: at(-365), how: 'said' },
      ...lived('W01', 3).slice(1),
      { id: 'n', at: at(5), mark: 'W01', what: 'cell-fitted', how: 'live' },
    ]
    expect(cellsOf(tallied(coin, entries), START + 6 * DAY)[0]!.past).toMatchObject([{ sends: 3, counted: false }])
  })
  test('a silent contact is overdue, says for how long and how long is usual, and is due no sooner for it', () => {
    const coin = house(COIN, ', openingsPerYear: 300')
    const ledger = tallied(coin, [...lived('W01', 15), ...lived('W02', 15)])
    const now = START + 55 * DAY
    const left = forecastOf(coin, ledger, now)
    expect(left.W01!.alive).toBeLessThan(0.05)
    expect(left.W01!.silence!.days).toBeCloseTo(40, 6)
    expect(left.W01!.silence!.usualDays).toBeGreaterThan(0.7)
    expect(left.W01!.silence!.usualDays).toBeLessThan(1.4)
    expect(left.W01!.changeBy).toBeGreaterThan(now + DAY)
    const readings = read(ledger, now, undefined, leftOf(coin, ledger, now))
    expect(readings[0]!.doubts).toEqual(['overdue'])
    // A test is a word, and no natural opening.
    const proved: Entry = { id: 'p', at: at(54), mark: 'W01', what: 'proved', how: 'live' }
    const heard = forecastOf(coin, applyAll(ledger, [proved]), now)
    expect(heard.W01!.alive).toBeGreaterThan(0.85)
    expect(heard.W01).not.toHaveProperty('silence')
  })
  test('the rate is that of natural openings, over the time in which a cell ran', () => {
    const coin = house(COIN)
    const of = (entries: Entry[], day: number) => historiesOf(coin, tallied(coin, entries), START + day * DAY)[0]!
    const word = (id: string, day: number): Entry => ({ id, at: at(day), mark: 'W01', what: 'opened', how: 'live' })
    const plain = of(lived('W01', 10), 30)
    expect(plain.observedOpenings).toBe(10)
    // A walk heard it at day 20, at its end it says so; a test took two tries.
    const walked = of([...lived('W01', 10), word('w', 20), { ...word('r', 20.05), what: 'round', text: 'heard' }], 30)
    expect(walked.observedOpenings).toBe(10)
    expect(walked.observedDays).toBeGreaterThan(1.8 * plain.observedDays)
    expect(walked.quietDays).toBeLessThan(0.6 * plain.quietDays!)
    const tested = of(
      [...lived('W01', 10), word('t1', 20), word('t2', 20.001), { ...word('t', 20.002), what: 'proved' }],
      30,
    )
    expect(tested.observedOpenings).toBe(10)
    // Dead from day 10 on, found on day 40: these thirty days say nothing of the rate.
    const died = of(
      [
        ...lived('W01', 10),
        { ...word('f', 40), what: 'failed' },
        { ...word('c', 40.1), what: 'cell-fitted' },
        word('o', 41),
      ],
      41,
    )
    expect(died.observedOpenings).toBe(11)
    expect(died.observedDays).toBeLessThan(1.25 * plain.observedDays)
  })
  test('fewer openings in winter: assumed, and learned from the months', () => {
    const coin = house(COIN)
    const spread = (day: number, months: (day: number) => boolean): Entry[] => [
      lived('W01', 0)[0]!,
      ...Array.from({ length: day }, (_, i) => i + 1)
        .filter(months)
        .map((each): Entry => ({ id: `o${each}`, at: at(each), mark: 'W01', what: 'opened', how: 'live' })),
    ]
    const seasonIn = (entries: Entry[], days: number) => seasonOf(coin, tallied(coin, entries), START + days * DAY)
    // Lisbon puts its clocks forward in summer: July is its summer.
    expect(seasonIn([], 1)).toEqual({ swing: 0.3, summer: Date.UTC(2024, 6, 15) })
    const even = seasonIn(
      spread(730, day => day % 3 === 0),
      731,
    )
    expect(even.swing).toBeLessThan(0.12)
    // In the warm half of the year three times as often as in the cold one.
    const warm = seasonIn(
      spread(730, day => day % (day % 365 < 183 ? 2 : 6) === 0),
      731,
    )
    expect(warm.swing).toBeGreaterThan(0.4)
  })
  test('a load that never starts leaves nothing, a cell without a model has no forecast', () => {
    const never = house(`${COIN}, resetVolts: 3.1`)
    expect(leftOf(never, tallied(never, []), START).W01).toMatchObject({ p50: 0, next: 0 })
    const unknown = house(COIN.replace('CR2032', 'XY99'))
    expect(leftOf(unknown, tallied(unknown, []), START)).toEqual({})
    expect(policyOf(unknown).W01!.modelSends).toBeUndefined()
  })
  test('a cell that reports both edges pays two sends an opening', () => {
    const both = house('reports: both, cell: CR2032, words: { opened: o, closed: c, gone: g }, load: cold-join')
    expect(modelSendsOf(both.openings[0]!)).toBeCloseTo(20, 6)
    expect(leftOf(both, tallied(both, lived('W01', 0)), START + DAY).W01!.p50).toBeCloseTo(10, 0)
  })
  test('a cell that reports both edges is to be changed as soon as one of half the life that reports one', () => {
    const rate = ', openingsPerYear: 12'
    const both = house('reports: both, cell: CR2032, words: { opened: o, closed: c, gone: g }, load: cold-join', rate)
    const one = house(COIN, ', openingsPerYear: 24')
    const due = (from: typeof both): number =>
      (forecastOf(from, tallied(from, lived('W01', 0)), START + DAY).W01!.changeBy! - START) / DAY
    expect(due(both)).toBeGreaterThan(0.8 * due(one))
    expect(due(both)).toBeLessThan(1.1 * due(one))
  })
  test('a contact that sends though the model says that it cannot start has figures, by assumption', () => {
    const never = house(`${COIN}, resetVolts: 3.1`)
    const { W01, W02 } = leftOf(never, tallied(never, lived('W01', 12)), START + 13 * DAY)
    expect(W01!.p50).toBeGreaterThan(4)
    expect(W01!.p95 / W01!.p50).toBeGreaterThan(3)
    expect(W01!.next).toBeGreaterThan(0.8)
    // Its count is no count that the model gives: the model alone does not make it low.
    const readings = read(tallied(never, lived('W01', 3)), START + 4 * DAY, undefined, {})
    expect(readings[0]!.doubts).not.toContain('low')
    expect(readings[1]!.doubts).toContain('low')
    expect(W01!.restsOn).toEqual({ source: 'practice', assumed: true, cells: 1, deaths: 0 })
    expect(W02).toMatchObject({ p50: 0, next: 0, restsOn: { source: 'practice', assumed: true } })
  })
  test('the count from practice holds whatever the reset, at room temperature and without a lamp only', () => {
    const coin = (opening: string) => leftOf(house(COIN, opening), tallied(house(COIN, opening), []), START + DAY).W01!
    for (const usual of ['', ', resetVolts: 2.35', ', temperatureCelsius: 25', ', lampMilliamps: 0'])
      expect(coin(usual).restsOn).not.toHaveProperty('assumed')
    for (const other of [', temperatureCelsius: 10', ', lampMilliamps: 3'])
      expect(coin(other).restsOn).toMatchObject({ source: 'practice', assumed: true })
  })
  test('one opening in the cold does not make the others less sure', () => {
    const mixed = register(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { ${COIN} }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Cellar, sender: coin, temperatureCelsius: 8 }
`)
    const left = leftOf(mixed, tallied(mixed, []), START + DAY)
    const alone = leftOf(house(COIN), tallied(house(COIN), []), START + DAY)
    expect(left.W01).toEqual(alone.W01)
    expect(left.W02!.p50).toBeLessThan(left.W01!.p50)
  })
  test.each([
    ['one temperature', { temperatureCelsius: 8 }],
    ['one at which our own factors let it not start', { temperatureCelsius: 1 }],
    ['a season', { seasonCelsius: { january: 8, july: 22 } }],
  ])('a new cell has one range in the cold, in budget and forecast: %s', (_, cold) => {
    const settings = JSON.stringify({ ...cold, openingsPerYear: 60 })
      .slice(1, -1)
      .replaceAll(':', ': ')
    const cool = house(COIN, `, ${settings}`)
    const { openings } = eventBudget({ ...cold, openingsPerYear: 60, fittedAt: at(0) })
    const left = forecastOf(cool, tallied(cool, [...lived('W01', 0), ...lived('W02', 0)]), START).W01!
    for (const p of ['p05', 'p50', 'p95'] as const)
      expect(Math.abs(left[p] - openings[p])).toBeLessThan(0.01 * openings[p] + 0.02)
    expect(openings.p95).toBeGreaterThan(10)
  })
  test('cells that stood in the cold teach how much it counts', () => {
    const cool = house(COIN, ', temperatureCelsius: 8')
    // by our own factors 6 openings, by half of them 13
    const fresh = leftOf(cool, tallied(cool, [...lived('W01', 0), ...lived('W02', 0)]), START)
    const taught = leftOf(cool, tallied(cool, [...lived('W01', 14), ...lived('W02', 0)]), START + 14 * DAY)
    expect(taught.W02!.p50).toBeGreaterThan(1.3 * fresh.W02!.p50)
    expect(taught.W02!.p05).toBeGreaterThan(fresh.W02!.p05)
  })
  describe('a season of temperatures', () => {
    const IN_SEASON = ', seasonCelsius: { january: 8, july: 22 }, openingsPerYear: 60'
    const cold = house(COIN, IN_SEASON)
    /** On the first of a month, the cell fitted then. */
    const fittedIn = (month: string, register = cold) => {
      const now = Date.parse(`2026-${month}-01T00:00:00.000Z`)
      const entries: Entry[] = [
        {
          id: 'c',
          at: new Date(now).toISOString(),
          mark: 'W01',
          what: 'cell-fitted',
          how: 'live',
          cell: { type: 'CR2032' },
        },
      ]
      const ledger = applyAll(startLedger(policyOf(register), new Date(now).toISOString()), entries)
      return forecastOf(register, ledger, now).W01!
    }
    test('a cell fitted in spring has more before it than one fitted in autumn, and both less than in a warm room', () => {
      const [spring, autumn, warm] = [
        fittedIn('04'),
        fittedIn('10'),
        fittedIn('10', house(COIN, ', openingsPerYear: 60')),
      ]
      expect(spring.p50).toBeGreaterThan(1.3 * autumn.p50)
      expect(warm.p50).toBeGreaterThan(autumn.p50)
      expect(autumn.restsOn).toMatchObject({ source: 'practice', assumed: true })
      expect(autumn.changeBy! - Date.parse('2026-10-01')).toBeLessThan(spring.changeBy! - Date.parse('2026-04-01'))
    })
    test('on a winter day the next send is less sure than on a summer day, of cells that gave as many', () => {
      const readOn = (sends: number, day: number) =>
        forecastOf(cold, tallied(cold, lived('W01', sends)), START + day * DAY).W01!
      // ten sends in March, then read in July and in January: nothing else was heard
      const [july, january] = [readOn(10, 130), readOn(10, 310)]
      expect(january.next / january.alive).toBeLessThan(july.next / july.alive)
    })
    test('a death in the cold is no early death at room temperature', () => {
      const winter = Date.parse('2026-12-20T00:00:00.000Z')
      const day = (n: number): string => new Date(winter + n * DAY).toISOString()
      const entries: Entry[] = [
        { id: 'c', at: day(0), mark: 'W01', what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } },
        ...Array.from(
          { length: 7 },
          (_, i): Entry => ({ id: `${i}`, at: day(i + 1), mark: 'W01', what: 'opened', how: 'live' }),
        ),
        { id: 'f', at: day(9), mark: 'W01', what: 'failed', how: 'live' },
        { id: 'd', at: day(9.1), mark: 'W01', what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } },
      ]
      const [died] = historiesOf(cold, applyAll(startLedger(policyOf(cold), day(0)), entries), winter + 10 * DAY)[0]!
        .past
      const [through, failed] = (died as { failedBetween: [number, number] }).failedBetween
      expect(through).toBeGreaterThan(15)
      expect(failed).toBeGreaterThan(through)
    })
    test('the nearest wins, be it a season or one temperature', () => {
      const { openings } = register(`house: Ropewalk Studios
timezone: Europe/Lisbon
tally: ropewalk/tally
seasonCelsius: { january: 8, july: 22 }
senders:
  coin: { ${COIN} }
  loft: { ${COIN}, temperatureCelsius: 30 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Stove room, sender: coin, temperatureCelsius: 24 }
  - { mark: W03, name: Loft, sender: loft }
  - { mark: W04, name: Eaves, sender: loft, seasonCelsius: { january: 2, july: 35 } }
`)
      expect(
        openings.map(({ settings: { temperatureCelsius, seasonCelsius } }) => temperatureCelsius ?? seasonCelsius),
      ).toEqual([{ january: 8, july: 22 }, 24, 30, { january: 2, july: 35 }])
    })
  })
  test('where the model leaves what is known of a cell the figure is a lower bound', () => {
    const gentle = house(COIN.replace('cold-join', '[{ milliamps: 60, milliseconds: 3000 }]'))
    expect(leftOf(gentle, tallied(gentle, []), START).W01!.atLeast).toBe(true)
    const coin = house(COIN)
    expect(leftOf(coin, tallied(coin, []), START).W01).not.toHaveProperty('atLeast')
  })
  test('what went before the count is guessed in sends, two an opening where both edges are sent', () => {
    const guessed = (sender: string): CellHistory['unknownBefore'] => {
      const from = house(sender, ', cellFitted: 2025-09-01, openingsPerYear: 10')
      return historiesOf(from, tallied(from, []), START + DAY)[0]!.unknownBefore
    }
    // 181 days at 10 openings a year.
    expect(guessed(COIN)).toBeCloseTo((10 * 181) / 365.25, 1)
    const both = 'reports: both, cell: CR2032, words: { opened: o, closed: c, gone: g }, load: cold-join'
    expect(guessed(both)).toBeCloseTo((20 * 181) / 365.25, 1)
  })
  test('a spent cell of unknown age still says that it may have sent before the count', () => {
    const coin = house(COIN)
    const failed = [20, 21, 22].map(
      (day): Entry => ({ id: `f${day}`, at: at(day), mark: 'W01', what: 'failed', how: 'live' }),
    )
    const ledger = tallied(coin, [...lived('W01', 19).slice(1), ...failed])
    expect(leftOf(coin, ledger, START + 30 * DAY).W01).toMatchObject({ p50: 0, sentBefore: true })
  })
  test('a spent cell has nothing left and is to be changed now, however long it is silent', () => {
    const coin = house(COIN, ', openingsPerYear: 40')
    const failed = [20, 21, 22].map(
      (day): Entry => ({ id: `f${day}`, at: at(day), mark: 'W01', what: 'failed', how: 'live' }),
    )
    const now = START + 300 * DAY
    const ledger = tallied(coin, [...lived('W01', 19), ...failed])
    expect(read(ledger, now)[0]!.doubts).toContain('spent')
    const { restsOn, ...rest } = forecastOf(coin, ledger, now).W01!
    expect(rest).toEqual({
      p05: 0,
      p50: 0,
      p95: 0,
      left: { p05: 0, p50: 0, p95: 0 },
      alive: 0,
      next: 0,
      untilLow: 0,
      countOn: 0,
      changeBy: now,
    })
    expect(restsOn).toEqual({ source: 'house', cells: 1, deaths: 1 })
  })
  test('the example house can be counted, heard and forecast', () => {
    const ropewalk = register(readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8'))
    expect(earsOf(ropewalk).size).toBe(ropewalk.openings.length)
    const ledger = startLedger(policyOf(ropewalk), at(0))
    const onCells = ropewalk.openings.filter(({ sender }) => sender.power === 'cell').map(({ mark }) => mark)
    expect(Object.keys(forecastOf(ropewalk, ledger, START + DAY)).sort()).toEqual(onCells.sort())
  })
})
