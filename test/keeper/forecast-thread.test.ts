import { expect, it } from 'vitest'
import { leftOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import type { LeftByMark } from '../../src/house/state.ts'
import { type ForecastInput, leanLedger } from '../../src/keeper/forecast/forecast.ts'
import { ForecastThread, forecastThread } from '../../src/keeper/forecast/forecast-thread.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { until } from '../support/until.ts'
import { registerOf } from './bench-house.ts'

const NOW = Date.parse('2026-06-20T12:00:00.000Z')

/** A house with openings, a failed test, a new cell and join times. */
function input(): ForecastInput {
  const register = registerOf()
  const at = (minutes: number) => new Date(NOW - 14 * 86_400_000 + minutes * 60_000).toISOString()
  const entries = Array.from({ length: 400 }, (_, n): Entry => {
    const what = n === 370 ? 'failed' : n === 373 ? 'cell-fitted' : 'opened'
    const how = what === 'opened' ? 'live' : 'said'
    return { id: `e${n}`, at: at(40 * n), mark: n % 3 === 0 ? 'W01' : 'W02', what, how, joinMilliseconds: 3_600 + n }
  })
  return { register, ledger: applyAll(startLedger(policyOf(register), at(-60)), entries), now: NOW }
}

/** A stand-in for the thread: `answer` is the source of a function of the name of the house. */
const threadOf = (answer: string, longestMilliseconds?: number) => {
  const source = `import { parentPort } from 'node:worker_threads'
    const answer = ${answer}
    parentPort.on('message', async ({ register: { house } }) => parentPort.postMessage({ left: { [await answer(house)]: {} } }))`
  return new ForecastThread(new URL(`data:text/javascript,${encodeURIComponent(source)}`), longestMilliseconds)
}

/** Asks for forecasts of houses by their names, and keeps the order in which they were handed over. */
function asker(thread: ForecastThread) {
  const houses = new Map<string, object>()
  const given: string[] = []
  const died: string[] = []
  const ask = (name: string): Promise<LeftByMark> => {
    if (!houses.has(name)) houses.set(name, { name })
    return thread.forecast(houses.get(name)!, {
      give: () => {
        given.push(name)
        return { register: { ...registerOf(), house: name }, ledger: startLedger({}), now: NOW }
      },
      died: why => died.push(`${name}: ${why}`),
    })
  }
  return { ask, given, died }
}

it('what the ledger remembers of single entries is no part of a forecast', () => {
  const { register, ledger, now } = input()
  const whole = leftOf(register, ledger, now)
  expect(leftOf(register, leanLedger(ledger), now)).toEqual(whole)
  expect(Math.max(...Object.values(whole).map(({ p50 }) => p50))).toBeGreaterThan(0)
  expect(JSON.stringify(leanLedger(ledger)).length).toBeLessThan(JSON.stringify(ledger).length / 4)
})

it('the thread says the same as this one', async () => {
  const { register, ledger, now } = input()
  const left = await forecastThread.forecast({}, { give: () => ({ register, ledger, now }), died: () => {} })
  expect(left).toEqual(leftOf(register, ledger, now))
})

it('the newest asked for comes first, and a house waits once at most', async () => {
  const { ask, given } = asker(threadOf('house => house'))
  const first = ask('a')
  const waiting = [ask('b'), ask('c'), ask('d'), ask('b')]
  expect(waiting[3]).toBe(waiting[0])
  expect(await first).toEqual({ a: {} })
  expect(await Promise.all(waiting)).toEqual([{ b: {} }, { c: {} }, { d: {} }, { b: {} }])
  expect(given).toEqual(['a', 'b', 'd', 'c'])
})

it('a house may wait again while its forecast is in hand: what came meanwhile is in the next', async () => {
  const { ask, given } = asker(threadOf('house => house'))
  const [inHand, next] = [ask('a'), ask('a')]
  expect(next).not.toBe(inHand)
  await Promise.all([inHand, next])
  expect(given).toEqual(['a', 'a'])
})

it('a thread that dies is told and begun again; the house in hand is tried once more, the others get theirs', async () => {
  const { ask, given, died } = asker(threadOf("house => (house === 'bad' ? process.exit(7) : house)"))
  const bad = ask('bad')
  const good = ask('good')
  await expect(bad).rejects.toThrow(/ended twice over it \(exit code 7\)/)
  expect(await good).toEqual({ good: {} })
  expect(died).toEqual(['bad: exit code 7', 'bad: exit code 7'])
  expect(given, 'the second try is the last').toEqual(['bad', 'good', 'bad'])
})

it('a thread that fails says why', async () => {
  const { ask } = asker(threadOf("() => { throw new Error('out of order') }"))
  await expect(ask('a')).rejects.toThrow(/out of order/)
})

it('a forecast that hangs is given up, and others go on', async () => {
  const { ask, died } = asker(
    threadOf("house => (house === 'slow' ? new Promise(() => setInterval(() => {}, 9)) : house)", 300),
  )
  const slow = ask('slow').catch((error: Error) => error.message)
  await until('the end of the first', () => died.length === 1)
  expect(await ask('other')).toEqual({ other: {} })
  expect(await slow).toMatch(/ended twice/)
})
