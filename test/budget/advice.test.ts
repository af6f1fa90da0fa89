import { describe, expect, it } from 'vitest'
import { leftByMark } from '../../src/budget/lives/left.ts'
import { OVERDUE_BELOW } from '../../src/ledger/read.ts'
import { startHouse, testContact, WORLDS } from './houses.ts'
import { ADVICE, everySends, KNOWING, meanOf, play } from './policies.ts'
import { historiesOf, timeIn } from './tallied.ts'

/** Simulated, no source: houses.ts is written apart from the forecast. `npm run bench advice` plays many more. */
const [WORLD] = WORLDS
const played = (policy: typeof ADVICE) =>
  meanOf(Array.from({ length: 4 }, (_, h) => play(startHouse(WORLD!, 9000 + h), policy, 2)))

describe('the advice, followed for two years in four houses of 12 openings', () => {
  it('leaves less than half the unnoticed dead days of a new cell every 15 sends, at the cells of one who knows', () => {
    const [advice, every15, knowing] = [ADVICE, everySends(15), KNOWING].map(played)
    expect(advice!.deadDays).toBeLessThan(every15!.deadDays / 2)
    expect(advice!.missed).toBeLessThan(every15!.missed / 2)
    expect(advice!.cells).toBeLessThan(knowing!.cells * 1.25)
    expect(advice!.tests).toBeLessThan(2)
  })
})

describe('the first days of a house with new cells', () => {
  it.each([undefined, 6, 30, 120])(
    'each contact tried twice, a guess of %s openings a year: nothing is asked for',
    guess => {
      const house = startHouse(WORLD!, 5)
      for (const contact of house.contacts) {
        testContact(house, contact)
        testContact(house, contact)
      }
      for (const day of [1, 3, 7]) {
        house.day = day
        const histories = historiesOf(house).map(cell => ({
          ...cell,
          ...(guess === undefined ? {} : { openingsPerYear: guess }),
        }))
        for (const { alive, next } of Object.values(leftByMark(histories, { now: timeIn(house, day) }))) {
          expect(alive).toBeGreaterThan(OVERDUE_BELOW)
          expect(next / alive).toBeGreaterThan(0.9)
        }
      }
    },
  )
})
