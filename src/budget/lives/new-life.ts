import type { Range } from '../types.ts'
import type { Remaining } from './cell-left.ts'
import { type Course, inTheCold } from './cold.ts'
import { lifeLeft } from './forecast.ts'
import { type Chance, mixed } from './mixed.ts'
import { onSteps } from './send-steps.ts'

/** Sends at which a life is worked out; a Weibull life scales with its median. */
const SENDS = 20

interface NewLife {
  readonly left: Remaining
  readonly p05: number
  readonly p95: number
}
const lives = new Map<boolean, NewLife>()

function lifeOf(countKnown: boolean): NewLife {
  const found = lives.get(countKnown)
  if (found) return found
  const left = lifeLeft({ modelMedian: SENDS, countKnown, sends: 0, history: [], replaceBelow: 0.9 })
  const quantile = (p: number): number => left.quantile(p)
  const life = {
    left: { surviving: onSteps(more => left.surviving(more), 0), quantile },
    p05: quantile(0.05) / SENDS,
    p95: quantile(0.95) / SENDS,
  }
  lives.set(countKnown, life)
  return life
}

/**
 * What one new cell gives, before the house has taught anything: the one range for budget, suit, parts and forecast.
 * @param modelMedian - sends or openings by the model, 0 or more; the range is in the same unit
 * @param countKnown - whether a count is known for this kind of cell and load
 * @returns 90 % limits of one cell's life by the prior (`prior.ts`), whose middle is the model
 */
export function newLife(modelMedian: number, countKnown: boolean): Range {
  const { p05, p95 } = lifeOf(countKnown)
  return { p05: p05 * modelMedian, p50: modelMedian, p95: p95 * modelMedian }
}

/**
 * The same in the cold, of which nobody knows how much it counts: over all of its weights.
 * @param room - sends or openings at room temperature by the model, above 0
 * @param courses - the cell's way through the year at each weight; their chances add up to 1
 */
export function newLifeInTheCold(room: number, countKnown: boolean, courses: readonly Chance<Course>[]): Range {
  const { left } = lifeOf(countKnown)
  const surviving = (more: number): number => left.surviving((more * SENDS) / room)
  const scaled: Remaining = { surviving, quantile: p => (left.quantile(p) * room) / SENDS }
  const all = mixed(courses.map(course => ({ chance: course.chance, left: inTheCold(scaled, course, surviving) })))
  return { p05: all.quantile(0.05), p50: all.quantile(0.5), p95: all.quantile(0.95) }
}
