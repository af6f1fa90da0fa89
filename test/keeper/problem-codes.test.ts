import { expect, it } from 'vitest'
import { LOG_LEVELS } from '../../src/keeper/log-codes.ts'
import { KEEPER_PROBLEMS, parseKeeper } from '../../src/protocol/keeper-note.ts'
import { BenchHouse } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const problemsOf = (house: BenchHouse) => parseKeeper(house.broker.text('ropewalk/tally/keeper') ?? '')?.problems

it('every problem is a line of the log too', () => {
  for (const code of KEEPER_PROBLEMS) expect(Object.keys(LOG_LEVELS)).toContain(code)
})

it('a keeper without a problem tells none', async () => {
  const house = new BenchHouse()
  await house.start()
  expect(house.state()).not.toHaveProperty('problems')
})

it('words that were missed are told with their time, for a day', async () => {
  const house = new BenchHouse()
  await house.start()
  await house.clock.pass(60)
  await house.keeper.stop()
  house.kill()
  house.broker.sessions.clear()
  await house.clock.pass(3_600)
  await house.start()
  await house.clock.pass(60)
  const [problem] = problemsOf(house) ?? []
  expect(problem).toMatchObject({ code: 'session' })
  expect(problem?.from).toMatch(/^2026-06-01T08:0[01]/)
  expect(problem?.to).toMatch(/^2026-06-01T09:01/)
})

it('contacts that may not be heard are told by their marks', async () => {
  const house = new BenchHouse()
  house.broker.unreadable.add('ropewalk/w02')
  await house.start()
  await house.clock.pass(60)
  expect(problemsOf(house)).toEqual([{ code: 'deaf', marks: ['W02'] }])
})

it('a clock that was set is told by how much', async () => {
  const house = new BenchHouse()
  await house.start()
  await house.clock.pass(60)
  house.clock.set(-3_600_000)
  await house.clock.pass(60)
  expect(problemsOf(house)).toEqual([{ code: 'clock', seconds: -3_600 }])
})

it('a register that cannot be used is told without its text', async () => {
  const house = new BenchHouse()
  await house.start()
  house.keeper.refuseEdit('ropewalk.yaml has 2 errors')
  await settle()
  expect(problemsOf(house)).toEqual([{ code: 'register' }])
  expect(house.state()?.problem).toBe('ropewalk.yaml has 2 errors')
})
