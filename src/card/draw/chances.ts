import type { Left } from '../../protocol/reading.ts'

export interface Chance {
  /** Openings from now on. */
  readonly more: number
  /** Chance that the cell gives at least so many, 0 to 1. */
  readonly chance: number
}

/** Points drawn between two known ones. */
const STEPS = 8

/**
 * The forecast as a curve. Five of its points are known (1 at none, the next, and the 5, 50 and 95 % limits); between
 * them it is straight on Weibull paper, ln(-ln chance) against ln openings.
 */
export function chancesOf({ p05, p50, p95, next }: Pick<Left, 'p05' | 'p50' | 'p95' | 'next'>): readonly Chance[] {
  const wished: readonly Chance[] = [
    { more: 1, chance: next },
    { more: p05, chance: 0.95 },
    { more: p50, chance: 0.5 },
    { more: p95, chance: 0.05 },
  ]
  const known: Chance[] = []
  for (const point of wished
    .filter(({ more, chance }) => more > 0 && chance > 0 && chance < 1)
    .sort((a, b) => a.more - b.more)) {
    const before = known.at(-1)
    if (!before || (point.more > before.more && point.chance < before.chance)) known.push(point)
  }
  const curve: Chance[] = [{ more: 0, chance: 1 }]
  for (const [index, to] of known.entries()) {
    const from = known[index - 1]
    if (from) for (let step = 1; step < STEPS; step++) curve.push(between(from, to, step / STEPS))
    curve.push(to)
  }
  return curve
}

function between(from: Chance, to: Chance, share: number): Chance {
  const hazard = (chance: number) => Math.log(-Math.log(chance))
  const more = Math.exp(Math.log(from.more) + share * (Math.log(to.more) - Math.log(from.more)))
  const along = hazard(from.chance) + share * (hazard(to.chance) - hazard(from.chance))
  return { more, chance: Math.exp(-Math.exp(along)) }
}
