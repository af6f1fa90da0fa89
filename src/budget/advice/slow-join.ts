import { median } from '../../text/median.ts'
import { mustBeObject } from '../check.ts'
import { normalCdf } from '../lives/special-functions.ts'

/** One first word: how long after the opening it came. */
export interface FirstWord {
  /** Milliseconds since the epoch; only the order is used. */
  readonly at: number
  readonly delayMilliseconds: number
}

export interface SlowJoin {
  /** True when both parts of the rule hold. */
  readonly slow: boolean
  /** Median of the newest three over the median of the earliest five. */
  readonly ratio: number
  /** Chance of so strong a rise if nothing had changed. */
  readonly chance: number
  readonly words: number
}

const FEWEST = 8
const RATIO = 1.25
const CHANCE = 0.01

/**
 * Early warning: the time from opening to word creeps up.
 *
 * Rule: at least eight first words; the newest three are a quarter slower than the earliest five (medians, so that
 * one bad join says nothing); and the delays rise with time more than chance explains (Mann-Kendall, one-sided 1 %).
 * Why it may mean the cell: at low voltage a module repeats parts of its start; a changed channel or a new router
 * slows joins too, so the warning asks for a test, it does not call the cell low.
 * What it rests on: the trend test is published; the quarter, the eight and the link to the cell are assumptions.
 * @returns undefined when there are too few words to say anything
 * @throws RangeError when a word is none, or its delay negative or not finite
 * @see Mann 1945, Econometrica 13, 245; Kendall 1975, Rank Correlation Methods (variance with ties)
 */
export function slowJoin(words: readonly FirstWord[]): SlowJoin | undefined {
  for (const word of words) {
    mustBeObject('word', word, 'an object with at and delayMilliseconds')
    const { delayMilliseconds: delay } = word
    if (!(delay >= 0 && delay < Infinity)) throw new RangeError(`delayMilliseconds must be 0 or more, not ${delay}`)
  }
  if (words.length < FEWEST) return undefined
  const delays = [...words].sort((a, b) => a.at - b.at).map(word => word.delayMilliseconds)
  const early = median(delays.slice(0, 5))
  const ratio = early > 0 ? median(delays.slice(-3)) / early : Infinity
  const chance = risingChance(delays)
  return { slow: ratio >= RATIO && chance < CHANCE, ratio, chance, words: delays.length }
}

/** One-sided chance of a Mann-Kendall trend at least so strong; normal approximation with continuity and tie correction. */
export function risingChance(values: readonly number[]): number {
  const n = values.length
  let s = 0
  for (let i = 0; i < n; i++) for (let j = i + 1; j < n; j++) s += Math.sign(values[j]! - values[i]!)
  const ties = new Map<number, number>()
  for (const value of values) ties.set(value, (ties.get(value) ?? 0) + 1)
  const term = (t: number): number => t * (t - 1) * (2 * t + 5)
  const variance = (term(n) - [...ties.values()].reduce((sum, t) => sum + term(t), 0)) / 18
  if (variance === 0) return 1
  return 1 - normalCdf((s - 1) / Math.sqrt(variance))
}
