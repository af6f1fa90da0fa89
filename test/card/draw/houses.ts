/** Houses and readings for the drawing's tests: one that is made by hand, and one for any number of openings. */

import type { House } from '../../../src/card/draw/plan.ts'
import { DOUBTS, type Doubt, type Position } from '../../../src/protocol/reading.ts'
import { KINDS, type Roof } from '../../../src/register/types.ts'

/** Every number is from the same small generator, so that a drawing can be made again. */
export function dice(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0
    return state / 2 ** 32
  }
}

/** A house of `count` openings of all kinds over four sides; some without a place along their side. */
export function houseOf(count: number, roof: Roof, seed = 1): House {
  const next = dice(seed + count)
  const floors = count < 4 ? 1 : count < 12 ? 2 : 3
  const sides = ['south', 'east', 'north', 'west'].slice(0, count < 2 ? 1 : count < 6 ? 2 : 4)
  return {
    sides,
    floors,
    roof,
    openings: Array.from({ length: count }, (_, i) => {
      const side = sides[i % sides.length]!
      const floor = Math.floor(i / sides.length) % floors
      const isTop = floor === floors - 1 && floor > 0
      const kinds =
        floor === 0
          ? KINDS
          : isTop
            ? (['window', 'sash', 'casement', 'hatch'] as const)
            : (['window', 'sash', 'casement', 'sliding'] as const)
      const kind = kinds[Math.floor(next() * kinds.length)]!
      const mark = `${kind.endsWith('door') ? 'D' : kind === 'hatch' ? 'H' : 'W'}${String(i + 1).padStart(2, '0')}`
      const along = next()
      return { mark, kind, at: next() < 0.2 ? { side, floor } : { side, floor, along } }
    }),
  }
}

/** A reading for each mark: about one in three asks for a look. */
export function readingsOf(house: House, seed = 7): Map<string, { position: Position; doubts: readonly Doubt[] }> {
  const next = dice(seed)
  return new Map(
    house.openings.map(({ mark }) => {
      const roll = next()
      const position =
        roll < 0.08 ? 'open' : roll < 0.22 ? 'opened' : roll < 0.3 ? 'no-word' : roll < 0.45 ? 'taken-closed' : 'closed'
      const doubts = next() < 0.18 ? [DOUBTS[Math.floor(next() * DOUBTS.length)]!] : []
      return [mark, { position, doubts }] as const
    }),
  )
}

/** One side so long that it must be cut: `count` windows along two floors. */
export function longHouse(count: number): House {
  const next = dice(count)
  return {
    sides: ['quay'],
    floors: 2,
    roof: 'gable',
    openings: Array.from({ length: count }, (_, i) => ({
      mark: `Quay-window-${i + 1}`,
      kind: i % 7 === 3 ? 'casement' : 'sash',
      at: { side: 'quay', floor: i % 2, along: next() },
    })),
  }
}
