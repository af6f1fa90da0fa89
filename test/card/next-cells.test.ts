import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { byNeed, isNeededNow } from '../../src/budget/advice/next-cells.ts'
import { jobsOf } from '../../src/card/select/jobs.ts'
import { houseOf } from '../../src/card/state/house.ts'
import { cellForecasts } from '../../src/cli/cells/cell-forecasts.ts'
import { leftOf, livesOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { EVENING, eveningEntries } from './fixtures.ts'

const register = parseRegister(readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')).register!
const at = (back: number) => new Date(EVENING - back).toISOString()
const HOUR = 3_600_000
const entry = (mark: string, what: Entry['what'], more: Partial<Entry> = {}): Entry => ({
  id: `${what} ${mark}`,
  at: at(HOUR),
  mark,
  what,
  how: 'live',
  ...more,
})
const failed = (mark: string): Entry => entry(mark, 'failed')
const unheard = (mark: string): Entry => entry(mark, 'round', { text: 'unheard' })
/** Its module powered up and its word did not get through. */
const faint = (mark: string): Entry => entry(mark, 'rest', { linkLiveSeconds: 90_000 })

describe('the wall and `forecast` name the same cells first', () => {
  test.each([
    ['an evening', []],
    ['a cell that failed', [failed('W22')]],
    ['cells that may be dying', [faint('W15'), faint('W13')]],
    ['a contact that a walk did not hear', [unheard('W11')]],
    ['all of these', [failed('W19'), faint('W15'), failed('W03'), unheard('W11')]],
  ])('%s', (_name, more: readonly Entry[]) => {
    const entries = [...eveningEntries(), ...more].sort((a, b) => (a.at < b.at ? -1 : 1))
    const ledger = applyAll(startLedger(policyOf(register), entries[0]!.at), entries)
    const readings = new Map(
      read(ledger, EVENING, undefined, leftOf(register, ledger, EVENING)).map(reading => [reading.mark, reading]),
    )
    const rows = houseOf(register).openings.map(opening => ({ opening, reading: readings.get(opening.mark)! }))
    const { due, more: others } = jobsOf(rows, EVENING)
    const told = cellForecasts(register, ledger, livesOf(register, ledger, EVENING), undefined, EVENING)
    expect(due.map(({ opening }) => opening.mark)).toEqual(told.slice(0, 3).map(({ opening }) => opening.mark))
    expect(due.length, `and ${others} more`).toBe(3)
  })

  test('a contact that a walk did not hear comes after a cell that failed and before one that may be dying', () => {
    const needs = [
      { mark: 'faint', doubts: ['faint'] },
      { mark: 'unheard', doubts: ['untested'], unheardOnWalk: at(HOUR) },
      { mark: 'spent', doubts: ['spent'] },
      { mark: 'well', doubts: [] },
    ]
    const sorted = [...needs].sort(byNeed)
    expect(sorted.map(({ mark }) => mark)).toEqual(['spent', 'unheard', 'faint', 'well'])
    expect(sorted.map(isNeededNow)).toEqual([true, true, true, false])
  })
})
