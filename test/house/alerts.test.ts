import { describe, expect, it } from 'vitest'
import { alertsDue } from '../../src/house/alerts.ts'
import { step } from '../../src/house/machine.ts'
import { policyOf } from '../../src/house/policy.ts'
import { type HouseEvent, type HouseState, startHouse } from '../../src/house/state.ts'
import { type AlertNote, parseTold, type ToldAlerts } from '../../src/protocol/alert.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Left } from '../../src/protocol/reading.ts'
import type { AlertSettings } from '../../src/register/types.ts'
import { HOUSE, registerOf } from '../keeper/bench-house.ts'
import { DEAD } from './left.ts'

const NOBODY: ReadonlySet<string> = new Set()
const NEW_LEFT: Left = { p05: 4, p50: 9, p95: 20, next: 0.99, restsOn: { source: 'practice', cells: 0, deaths: 0 } }
const LOW: Left = { ...NEW_LEFT, next: 0.5 }

/** A house whose time passes beat by beat; every alert that it tells. */
class Evening {
  state: HouseState = startHouse()
  told: ToldAlerts | undefined
  readonly alerts: (AlertNote & { readonly id: string })[] = []
  now: number
  #ids = 0

  constructor(start: string, alerts: AlertSettings | undefined, text = HOUSE) {
    this.now = Date.parse(start)
    const register = { ...registerOf(text), ...(alerts ? { alerts } : {}) }
    this.play({ kind: 'register', register, policies: policyOf(register), id: this.#id(), now: this.now })
    this.beat()
  }

  #id = (): string => `e${++this.#ids}`

  play(event: HouseEvent): void {
    this.state = step(this.state, event).state
  }

  /** A look of the keeper; what it remembers goes through a file, as over a restart. */
  beat(unreadable = NOBODY): readonly AlertNote[] {
    const { due, told } = alertsDue(this.state, this.told, unreadable, this.now)
    this.told = told && (JSON.parse(JSON.stringify(told)) as ToldAlerts)
    this.alerts.push(...due.map(({ id, note }) => ({ ...note, id })))
    return due.map(({ note }) => note)
  }

  pass(seconds: number, unreadable = NOBODY, every = 30): void {
    for (const end = this.now + seconds * 1000; this.now < end; ) {
      this.now += every * 1000
      this.play({ kind: 'time', now: this.now })
      this.beat(unreadable)
    }
  }

  entry(mark: string, what: Entry['what'], more: Partial<Entry> = {}): void {
    const entry: Entry = { id: this.#id(), at: new Date(this.now).toISOString(), mark, what, how: 'live', ...more }
    this.play({ kind: 'entries', entries: [entry], now: this.now })
  }

  left(left: Readonly<Record<string, Left>>): void {
    this.play({ kind: 'forecast', left, id: this.#id(), now: this.now })
  }

  missed(marks: readonly string[]): void {
    this.play({ kind: 'missed', marks, id: this.#id(), now: this.now })
  }

  /** What was told, in short: `open-long W01,W02`. */
  get lines(): readonly string[] {
    return this.alerts.map(({ what, marks }) => `${what} ${marks.join(',')}`)
  }
}

const HOURS = 3600

describe('bedtime', () => {
  it('tells once what may be open, and nothing where nothing is', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', { bedtime: '22:30' })
    house.pass(24 * HOURS)
    expect(house.lines).toEqual([])
    house.entry('W02', 'opened')
    house.entry('D01', 'opened')
    house.pass(2 * HOURS)
    house.entry('D01', 'closed')
    house.pass(24 * HOURS)
    expect(house.lines).toEqual(['open-at-bedtime W02'])
    house.entry('W02', 'seen-closed')
    house.pass(24 * HOURS)
    expect(house.lines).toHaveLength(1)
  })

  it('is by the clocks of the house through both changes of the year, once a night', () => {
    // Lisbon: WET until 2026-03-29 01:00 UTC, WEST (+1) until 2026-10-25 01:00 UTC (IANA time zone database).
    for (const [start, times] of [
      ['2026-03-27T12:00:00.000Z', ['2026-03-27T22:30', '2026-03-28T22:30', '2026-03-29T21:30', '2026-03-30T21:30']],
      ['2026-10-23T12:00:00.000Z', ['2026-10-23T21:30', '2026-10-24T21:30', '2026-10-25T22:30', '2026-10-26T22:30']],
    ] as const) {
      const house = new Evening(start, { bedtime: '22:30' })
      house.entry('W02', 'opened')
      house.pass(4 * 24 * HOURS)
      expect(house.alerts.map(({ at }) => at.slice(0, 16))).toEqual(times)
    }
  })

  it('that the clocks skip is as much later; that they show twice is told once, at the first', () => {
    for (const [start, time] of [
      ['2026-03-28T12:00:00.000Z', '2026-03-29T01:30'],
      ['2026-10-24T12:00:00.000Z', '2026-10-25T00:30'],
    ] as const) {
      const house = new Evening(start, { bedtime: '01:30' })
      house.entry('W02', 'opened')
      house.pass(23 * HOURS)
      expect(house.alerts.map(({ at }) => at.slice(0, 16))).toEqual([time])
    }
  })

  it('that passed while the keeper was away is told late within two hours, with what is known then, later not at all', () => {
    for (const [back, told] of [
      ['2026-06-01T22:30:00.000Z', ['open-at-bedtime W02']],
      ['2026-06-01T23:30:30.000Z', []],
    ] as const) {
      const house = new Evening('2026-06-01T20:00:00.000Z', { bedtime: '22:30' })
      house.entry('W02', 'opened')
      house.now = Date.parse(back)
      house.beat()
      expect(house.lines).toEqual(told)
      house.pass(20 * HOURS)
      expect(house.lines).toEqual(told)
      house.pass(4 * HOURS)
      expect(house.lines).toEqual([...told, 'open-at-bedtime W02'])
    }
  })

  it('that lies before anybody asked is not told', () => {
    const house = new Evening('2026-06-01T22:00:00.000Z', { bedtime: '22:30' })
    house.entry('W02', 'opened')
    house.pass(20 * HOURS)
    expect(house.lines).toEqual([])
  })

  it('a clock that is set back an hour tells it no second time; one that ran a year ahead does not silence it', () => {
    const house = new Evening('2026-06-01T20:00:00.000Z', { bedtime: '22:30' })
    house.entry('W02', 'opened')
    house.pass(2 * HOURS)
    house.now -= 3_600_000
    house.pass(2 * HOURS)
    expect(house.lines).toHaveLength(1)

    const ahead = new Evening('2027-06-01T20:00:00.000Z', { bedtime: '22:30' })
    ahead.pass(2 * HOURS)
    ahead.now = Date.parse('2026-06-01T20:00:00.000Z')
    ahead.beat()
    ahead.entry('W02', 'opened')
    ahead.pass(2 * HOURS)
    expect(ahead.lines).toEqual(['open-at-bedtime W02'])
  })
})

describe('open for long', () => {
  it('is told once for each opening, of a window that nobody has seen shut too', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', { openLongMinutes: 240 })
    house.entry('W01', 'opened')
    house.now += 6_000
    house.entry('W01', 'rest')
    house.pass(239 * 60)
    expect(house.lines).toEqual([])
    house.pass(60)
    expect(house.lines).toEqual(['open-long W01'])
    house.pass(24 * HOURS)
    expect(house.lines).toHaveLength(1)
    house.entry('W01', 'opened')
    house.pass(5 * HOURS)
    expect(house.lines).toEqual(['open-long W01', 'open-long W01'])
    expect(new Set(house.alerts.map(({ id }) => id)).size).toBe(2)
  })

  it('that is muted by a test is told after it: open long, open at bedtime, and one gap', () => {
    const house = new Evening('2026-06-01T18:00:00.000Z', { bedtime: '22:30', openLongMinutes: 240 })
    const onTest = (mark: string, minutes: number) =>
      house.entry(mark, 'on-test', { how: 'said', until: new Date(house.now + minutes * 60_000).toISOString() })
    for (const mark of ['W01', 'W02']) house.entry(mark, 'opened')
    house.entry('W03', 'opened')
    house.entry('W03', 'seen-closed')
    house.pass(3.4 * HOURS)
    for (let minutes = 0; minutes < 60; minutes += 2) {
      for (const mark of ['W01', 'W03']) onTest(mark, 3)
      house.pass(120)
    }
    expect(house.lines, 'while the test lasts').toEqual(['open-at-bedtime W02', 'open-long W02'])
    house.pass(120)
    expect(house.lines.slice(2), 'after it').toEqual(['open-at-bedtime W01', 'open-long W01', 'unheard W03'])
    house.pass(2 * HOURS)
    expect(house.lines, 'once').toHaveLength(5)
  })

  it('of bedtime is not told after a test of what was opened since, seen shut, or tested for two hours', () => {
    const house = new Evening('2026-06-01T18:00:00.000Z', { bedtime: '22:30' })
    const until = (minutes: number) =>
      ({ how: 'said', until: new Date(house.now + minutes * 60_000).toISOString() }) as const
    for (const mark of ['W01', 'W02', 'W03']) house.entry(mark, 'opened')
    house.pass(3.4 * HOURS)
    for (const mark of ['W01', 'W02']) house.entry(mark, 'on-test', until(30))
    house.entry('W03', 'on-test', until(150))
    house.pass(600)
    for (const mark of ['W01', 'W02']) house.entry(mark, 'seen-closed')
    house.pass(1_500)
    house.entry('W02', 'opened')
    house.pass(3 * HOURS)
    expect(house.lines.filter(line => line.startsWith('open'))).toEqual([])
  })

  it('is not told of what was closed, is taken for closed, or is on test', () => {
    const text = HOUSE.replace("name: 'Loft'", "name: 'Loft', takeAsClosedAfterMinutes: 60")
    const house = new Evening('2026-06-01T08:00:00.000Z', { openLongMinutes: 240 }, text)
    for (const mark of ['W01', 'W02', 'W03', 'D01']) house.entry(mark, 'opened')
    house.pass(HOURS)
    house.entry('D01', 'closed')
    house.entry('W01', 'on-test', { how: 'said', until: new Date(house.now + 12 * 3_600_000).toISOString() })
    house.pass(6 * HOURS)
    expect(house.lines).toEqual(['open-long W03'])
  })
})

describe('a cell', () => {
  it('is told once when it reads low, and again only for the next one', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', {})
    house.entry('W01', 'opened')
    house.left({ W01: NEW_LEFT })
    house.pass(HOURS)
    expect(house.lines).toEqual([])
    house.left({ W01: LOW })
    house.pass(HOURS)
    house.left({ W01: NEW_LEFT })
    house.left({ W01: LOW })
    house.pass(HOURS)
    expect(house.lines).toEqual(['cell-due W01'])
    house.entry('W01', 'cell-fitted')
    house.left({ W01: NEW_LEFT })
    house.pass(HOURS)
    house.left({ W01: LOW })
    house.pass(HOURS)
    expect(house.lines).toEqual(['cell-due W01', 'cell-due W01'])
  })

  it('of which nothing was heard, and of which nobody said that it was fitted, is none that is due', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', {})
    house.left({ W01: LOW })
    house.pass(HOURS)
    expect(house.lines).toEqual([])
    house.entry('W01', 'cell-fitted')
    house.left({ W01: LOW })
    house.pass(HOURS)
    expect(house.lines).toEqual(['cell-due W01'])
  })
})

describe('silence and gaps', () => {
  it('an overdue contact is told once for one silence', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', {})
    house.entry('W01', 'opened')
    house.now += 90 * 86_400_000
    house.left({ W01: DEAD })
    house.beat()
    house.beat()
    expect(house.lines).toEqual(['overdue W01'])
    house.entry('W01', 'opened')
    house.left({})
    house.beat()
    house.left({ W01: DEAD })
    house.beat()
    expect(house.lines).toEqual(['overdue W01', 'overdue W01'])
  })

  it('a contact is not told as overdue because no forecast speaks of it', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', {})
    house.entry('W01', 'opened')
    house.play({ kind: 'no-forecast', id: 'none', now: house.now })
    expect(house.state.readings.get('W01')?.doubts).toContain('overdue')
    house.beat()
    expect(house.lines).toEqual([])
  })

  it('of what the keeper could not hear nothing is said but that, once for each gap', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', { bedtime: '22:30', openLongMinutes: 60 })
    for (const mark of ['W01', 'W02', 'D01']) house.entry(mark, 'seen-closed')
    house.entry('W03', 'opened')
    house.missed(['W01', 'D01'])
    house.left({ W01: DEAD })
    house.beat()
    expect(house.lines).toEqual(['unheard W01,D01'])
    house.left({})
    house.entry('W01', 'seen-closed')
    house.entry('D01', 'closed')
    house.pass(HOURS)
    house.missed(['W01'])
    house.pass(HOURS)
    expect(house.lines).toEqual(['unheard W01,D01', 'open-long W03', 'unheard W01'])
  })

  it('an opening whose topic may not be read is unheard, whatever it said last, and may be open again when it can', () => {
    const house = new Evening('2026-06-01T08:00:00.000Z', { openLongMinutes: 60 })
    house.entry('W01', 'opened')
    house.entry('D01', 'opened')
    const unreadable = new Set(['D01'])
    house.pass(2 * HOURS, unreadable)
    expect(house.lines).toEqual(['unheard D01', 'open-long W01'])
    house.pass(60)
    expect(house.lines).toEqual(['unheard D01', 'open-long W01', 'open-long D01'])
    house.pass(60, unreadable)
    expect(house.lines.at(-1)).toBe('unheard D01')
    expect(house.lines).toHaveLength(4)
  })
})

it('nothing is told where the register asks for nothing, and bedtimes count from when it does', () => {
  const house = new Evening('2026-06-01T20:00:00.000Z', undefined)
  house.entry('W01', 'opened')
  house.left({ W01: LOW })
  house.missed(['W02'])
  house.pass(48 * HOURS)
  expect([house.lines, house.told]).toEqual([[], undefined])
})

it('alerts of many openings come in parts that every reader takes', () => {
  const lines = Array.from(
    { length: 1200 },
    (_, n) => `  - { mark: W${`${n}`.padStart(15, '0')}, name: 'n', sender: coin }`,
  )
  const text = `${HOUSE.split('openings:')[0]}openings:\n${lines.join('\n')}\n`
  const house = new Evening('2026-06-01T08:00:00.000Z', {}, text)
  const unreadable = new Set([...house.state.readings.keys()])
  const notes = house.beat(unreadable)
  expect(notes.map(({ marks }) => marks.length)).toEqual([500, 500, 200])
  expect(new Set(notes.flatMap(({ marks }) => marks)).size).toBe(1200)
  for (const note of notes) expect(JSON.stringify(note).length).toBeLessThan(16_384)
  expect(house.beat(unreadable)).toEqual([])
})

describe('what a store says was told', () => {
  const told = { bedtime: '2026-06-01T21:30:00.000Z', about: { overdue: { W01: '2026-05-01T08:00:00.000Z' } } }

  it('comes back as it was kept', () => {
    expect(parseTold(JSON.stringify(told))).toEqual(told)
  })

  it.each(['', 'nonsense', 'null', '{}', '{"bedtime":"soon","about":{}}', '{"bedtime":"2026-06-01T21:30:00.000Z"}'])(
    'counts as nothing where it is %j',
    text => {
      expect(parseTold(text)).toBeUndefined()
    },
  )
})
