import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { stepToward } from '../../src/card/views/list-order.ts'

const keys = 'abcdefghij'.split('')
const lists = fc.tuple(fc.shuffledSubarray(keys), fc.shuffledSubarray(keys))

/** Length of the longest common run of two lists, by the textbook table: what need not move. */
function common(a: readonly string[], b: readonly string[]): number {
  const table = Array.from({ length: a.length + 1 }, () => new Array<number>(b.length + 1).fill(0))
  for (let i = 1; i <= a.length; i++)
    for (let j = 1; j <= b.length; j++)
      table[i]![j] = a[i - 1] === b[j - 1] ? table[i - 1]![j - 1]! + 1 : Math.max(table[i - 1]![j]!, table[i]![j - 1]!)
  return table[a.length]![b.length]!
}

const moves = (standing: readonly string[], placed: ReadonlySet<string>) =>
  standing.filter(key => placed.has(key)).length

describe('the order of a list', () => {
  test('is reached at once where moves are not limited, and no more rows move than must', () => {
    fc.assert(
      fc.property(lists, ([standing, wished]) => {
        const { order, placed, done } = stepToward(standing, wished, 100)
        expect(order).toEqual(wished)
        expect(done).toBe(true)
        const old = standing.filter(key => wished.includes(key))
        expect(moves(standing, placed)).toBe(old.length - common(old, wished))
      }),
    )
  })
  test('is reached in steps of few moves, with every wished row there all along', () => {
    fc.assert(
      fc.property(lists, fc.integer({ min: 1, max: 3 }), ([standing, wished], most) => {
        let order: readonly string[] = standing
        for (let steps = 0; ; steps++) {
          const step = stepToward(order, wished, most)
          expect(moves(order, step.placed)).toBeLessThanOrEqual(most)
          expect([...step.order].sort()).toEqual([...wished].sort())
          const unmoved = (list: readonly string[]) => list.filter(key => wished.includes(key) && !step.placed.has(key))
          expect(unmoved(step.order)).toEqual(unmoved(order))
          order = step.order
          if (step.done) break
          expect(steps).toBeLessThan(keys.length)
        }
        expect(order).toEqual(wished)
      }),
    )
  })
  test('never moves the row that is held', () => {
    fc.assert(
      fc.property(lists, fc.constantFrom(...keys), ([standing, wished], held) => {
        const { order, placed } = stepToward(standing, wished, 100, held)
        expect(order).toEqual(wished)
        if (standing.includes(held)) expect(placed.has(held)).toBe(false)
      }),
    )
  })
  test('the row that is held stays, though it alone stands elsewhere than wished', () => {
    const { order, placed } = stepToward(['a', 'b', 'c', 'd'], ['b', 'c', 'd', 'a'], 100, 'a')
    expect(order).toEqual(['b', 'c', 'd', 'a'])
    expect([...placed].sort()).toEqual(['b', 'c', 'd'])
  })
  test('one row from the front to the middle is one move', () => {
    const standing = Array.from({ length: 500 }, (_, index) => `D${index}`)
    const wished = [...standing.slice(1, 250), 'D0', ...standing.slice(250)]
    expect([...stepToward(standing, wished, 24).placed]).toEqual(['D0'])
  })
})
