import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { Forecasts } from '../../src/card/effects/forecasts.ts'
import { inTurns } from '../../src/card/effects/in-turns.ts'
import { jobsOf } from '../../src/card/select/jobs.ts'
import type { Row } from '../../src/card/state/row.ts'
import { tellGrounds, tellJob, tellLeft, tellLeftInFull, tellQuiet, tellRow } from '../../src/card/words/tell.ts'
import { whenIn } from '../../src/card/words/when.ts'
import { wordsFor } from '../../src/card/words/words.ts'
import type { Left, Reading } from '../../src/protocol/reading.ts'
import { POLICY } from './policy.ts'

const NOW = Date.parse('2026-11-25T21:47:00.000Z')
const ground = { words: wordsFor(['en']), when: whenIn('en', 'Europe/Lisbon'), now: NOW }
const LEFT: Left = { p05: 2.34, p50: 12.6, p95: 29.4, next: 0.97, restsOn: { source: 'practice', cells: 1, deaths: 0 } }
const rowOf = (reading: Partial<Reading>): Row => ({
  opening: {
    mark: 'W01',
    name: 'Dye room',
    kind: 'window',
    reports: 'openings',
    power: 'cell',
    cell: 'CR2032',
    policy: POLICY,
  },
  reading: {
    mark: 'W01',
    position: 'closed',
    since: '2026-11-25T18:00:00.000Z',
    doubts: [],
    openings: 3,
    sends: 3,
    asOf: '2026-11-25T21:47:00.000Z',
    left: LEFT,
    ...reading,
  },
})

describe('one row', () => {
  test('what was seen shut is never said without that nobody listened since, whatever other doubt comes first', () => {
    const unheard = '2026-11-25T20:00:00.000Z'
    expect(tellRow(rowOf({ unheard }), ground)).toEqual({
      main: expect.stringContaining('20:00'),
      note: 'seen shut 18:00',
    })
    const both = tellRow(rowOf({ unheard, doubts: ['untested'] }), ground)
    expect(both.main).toBe('never tried yet')
    expect(both.note).toMatch(/seen shut 18:00 · .*20:00/)
    expect(tellQuiet(rowOf({ unheard, doubts: ['low'] }), ground)).toMatch(/low.* · seen shut 18:00 · .*20:00/)
  })

  test('a door that said itself that it is shut is never said to have been seen, be its link lost since', () => {
    const door = (more: Partial<Reading>) => {
      const row = rowOf({ last: { at: '2026-11-25T19:00:00.000Z', word: 'gone', how: 'live' }, ...more })
      return { ...row, opening: { ...row.opening, reports: 'both' as const } }
    }
    expect(tellRow(door({}), ground).main).toBe('closed 18:00')
    expect(tellGrounds(door({}), ground)).toBe('The contact reported it closed at 18:00.')
    expect(tellRow(door({ seen: true }), ground).main).toBe('seen shut 18:00')
    expect(tellGrounds(door({ seen: true }), ground)).toBe('Somebody looked at 18:00 and saw it shut.')
    expect(tellRow(rowOf({}), ground).main).toBe('seen shut 18:00')
    expect(tellRow(door({ seen: true, against: true }), ground)).toEqual({
      main: 'seen shut 18:00, but its contact said open',
      note: '',
    })
  })

  test('a first word that comes later warns beside other doubts too, but not beside a graver one of its cell', () => {
    const left = { ...LEFT, slowJoin: { ratio: 1.6, words: 9 } }
    expect(tellRow(rowOf({ left, doubts: ['untested'] }), ground).note).toMatch(/early warning/)
    expect(tellRow(rowOf({ left }), ground).note).toMatch(/early warning/)
    expect(tellRow(rowOf({ left, doubts: ['spent'] }), ground).note).not.toMatch(/early warning/)
  })

  test('what is left has its range, in the words of what it is', () => {
    expect(tellLeft(rowOf({}), ground)).toEqual({ big: '13', small: 'left (2 to 29)' })
    expect(tellLeft(rowOf({ left: { ...LEFT, atLeast: true } }), ground).small).toBe('or more left (2 at worst)')
    expect(tellLeft(rowOf({ doubts: ['spent'] }), ground).small).toBe('cell empty')
    expect(tellLeft(rowOf({ left: { ...LEFT, p05: 0, p50: 0, p95: 0 } }), ground).small).toBe('perhaps none left')
    expect(tellLeftInFull(rowOf({}), ground)).toBe('About 13 openings left (2 to 29).')
  })

  test('silence is told with what is usual', () => {
    const left = { ...LEFT, alive: 0.3, silence: { days: 41.2, usualDays: 12.4 } }
    expect(tellRow(rowOf({ left, doubts: ['overdue'] }), ground).main).toBe(
      'nothing heard for 41 days where 12 is usual: perhaps the cell',
    )
    const unusual = { ...LEFT, alive: 0.3 }
    expect(tellRow(rowOf({ left: unusual, doubts: ['overdue'] }), ground).main).toMatch(/silent for longer than usual/)
  })

  test('until a forecast speaks of a cell it is not called silent, nor a cell to see to', () => {
    const known = rowOf({ doubts: ['overdue'] })
    const { left: _, ...unforecast } = known.reading
    for (const row of [
      known,
      rowOf({ left: { ...LEFT, alive: 0.9 }, doubts: ['overdue'] }),
      { ...known, reading: unforecast },
    ]) {
      expect(tellRow(row, ground).main).toBe('not known yet whether its cell still works')
      expect(tellJob(row, ground)).not.toMatch(/silent/)
      expect(jobsOf([row], NOW)).toEqual({ due: [], more: 0, nextAt: undefined })
    }
    const silent = rowOf({ left: { ...LEFT, alive: 0.3 }, doubts: ['overdue'] })
    expect(tellJob(silent, ground)).toMatch(/silent: open it once as a test/)
    expect(jobsOf([silent], NOW).due).toEqual([silent])
  })
})

describe('the forecast of a wall', () => {
  beforeEach(() => void vi.useFakeTimers())
  afterEach(() => void vi.useRealTimers())

  test('is made a moment after an entry, and not more often than every five seconds', async () => {
    let made = 0
    const forecasts = new Forecasts(async () => void made++)
    forecasts.ask('soon')
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(700)
    expect(made).toBe(1)
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(3000)
    expect(made).toBe(1)
    await vi.advanceTimersByTimeAsync(3000)
    expect(made).toBe(2)
    forecasts.ask('soon')
    forecasts.stop()
    expect(vi.getTimerCount()).toBe(0)
  })

  test('is not begun while another one is being made', async () => {
    let [made, isDone] = [0, () => {}]
    const forecasts = new Forecasts(() => {
      made++
      return new Promise(done => {
        isDone = done
      })
    })
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(700)
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(20_000)
    expect(made).toBe(1)
    isDone()
    await vi.advanceTimersByTimeAsync(6000)
    expect(made).toBe(2)
    forecasts.stop()
  })

  test('lets the page have its turn between two cells', async () => {
    const happened: string[] = []
    function* slow() {
      for (const cell of ['W01', 'W02', 'W03']) {
        const until = performance.now() + 10
        while (performance.now() < until);
        happened.push(cell)
        yield
      }
      return happened.length
    }
    vi.useRealTimers()
    // Two cells are longer than a turn: what the page has waiting comes before the third.
    setTimeout(() => happened.push('page'))
    expect(await inTurns(slow())).toBeGreaterThanOrEqual(3)
    expect(happened.indexOf('page')).toBeLessThan(happened.indexOf('W03'))
  })

  test('after what a person said waits a moment, however lately one was made, and is not put off again', async () => {
    let made = 0
    const forecasts = new Forecasts(async () => void made++)
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(700)
    forecasts.ask('soon')
    await vi.advanceTimersByTimeAsync(500)
    forecasts.ask('now')
    await vi.advanceTimersByTimeAsync(400)
    forecasts.ask('now')
    forecasts.ask('soon')
    expect(made).toBe(1)
    await vi.advanceTimersByTimeAsync(300)
    expect(made).toBe(2)
    expect(vi.getTimerCount()).toBe(0)
  })
})
