import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { acts } from '../../src/cli/begin/demo-acts.ts'
import { type Past, pastOf } from '../../src/cli/begin/demo-past.ts'
import { livesByKind } from '../../src/cli/cells/lives.ts'
import { parseEntry } from '../../src/cli/store/tally-file.ts'
import { historiesOf } from '../../src/house/cell-histories.ts'
import { leftOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { parseRegister } from '../../src/register/parse.ts'

const { register } = parseRegister(readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8'))
if (!register) throw new Error('the example register has errors')
const NOW = Date.parse('2026-11-25T15:00:00.000Z')
const past = (seed: number): Past => pastOf(register, seeded(seed), NOW)

test('the same seed makes the same weeks, another makes others', () => {
  expect(past(7)).toEqual(past(7))
  expect(past(8).entries).not.toEqual(past(7).entries)
})

test.each([1, 2, 3, 4, 5])('is a believable house (seed %i)', seed => {
  const { entries, silent, boots } = past(seed)
  const times = entries.map(({ at }) => Date.parse(at))
  expect(times).toEqual([...times].sort((a, b) => a - b))
  expect(times.at(-1)).toBeLessThan(NOW)
  expect(new Set(entries.map(({ id }) => id)).size).toBe(entries.length)
  expect(entries.map(entry => parseEntry(JSON.stringify(entry), NOW)).filter(each => 'wrong' in each)).toEqual([])

  const policy = policyOf(register)
  const ledger = applyAll(startLedger(policy), entries)
  const readings = read(ledger, NOW, policy, leftOf(register, ledger, NOW))
  // Untested are the newcomer, and the one that waits for its new cell: the last walk did not hear it.
  const spent = readings.filter(({ doubts }) => doubts.includes('spent')).map(({ mark }) => mark)
  expect(spent).toHaveLength(1)
  expect(readings.filter(({ doubts }) => doubts.includes('untested')).map(({ mark }) => mark)).toEqual(
    [...spent, 'W23'].sort(),
  )
  expect([...silent]).toContain(spent[0])
  expect(readings.filter(({ position }) => position === 'closed').length).toBeGreaterThanOrEqual(18)
  expect(readings.filter(({ doubts }) => doubts.includes('twin') || doubts.includes('reflash'))).toEqual([])

  const lives = livesByKind(register, historiesOf(register, ledger, NOW)).flatMap(kind => kind.lives)
  expect(lives.filter(life => !('runningAt' in life)).length).toBeGreaterThanOrEqual(3)
  for (const { mark, boots: last } of entries.filter(each => each.boots !== undefined))
    expect(last).toBeLessThanOrEqual(boots.get(mark) ?? 0)
})

test('a contact says nothing from its last rest word until its cell is changed', () => {
  for (const seed of [1, 2, 3]) {
    const dead = new Set<string>()
    for (const { mark, what } of past(seed).entries) {
      if (what === 'failed') dead.add(mark)
      if (what === 'cell-fitted') dead.delete(mark)
      if (what === 'opened' || what === 'rest') expect(dead.has(mark)).toBe(false)
    }
  }
})

test('what is silent opens no more in the day that follows', () => {
  const { silent } = past(1)
  const day = acts(register, seeded(1), silent)
  for (let n = 0; n < 500; n++) {
    const { act } = day.next().value
    if ('mark' in act) expect(silent.has(act.mark)).toBe(false)
  }
})
