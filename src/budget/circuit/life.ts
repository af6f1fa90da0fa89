import type { EndedBy } from '../types.ts'
import { type CellTweak, cellAfter, knownVoltsOf, restedVolts } from './ageing.ts'
import { root } from './root.ts'
import { COULOMBS_PER_MAH, type Ready, total } from './sender.ts'
import { simulateOpening, simulateStart } from './simulate.ts'

/** One set of numbers of the uncertain things. */
export interface Tweak extends CellTweak {
  readonly currentFactor: number
  readonly resetVoltsMore: number
}
export const NOMINAL: Tweak = { ohmsFactor: 1, ageingFactor: 1, currentFactor: 1, resetVoltsMore: 0 }

export interface Life {
  readonly openings: number
  readonly endedBy: EndedBy
  /** True when it ends only because nothing is known of lower rested volts. */
  readonly cut: boolean
  readonly newMinimum: number
  readonly endMinimum: number
  readonly endRested: number
  readonly hard: number
  /** mAh that the reservoir was filled with, within `hard`. */
  readonly filled: number
}

/**
 * Hard charge after n openings, mAh. A reservoir before the reed is filled once. One after it costs C times the rested
 * volts at each opening, which fall as the charge is drawn: dH/dn = q + C (V - a H), in closed form.
 */
export function hardAfter(ready: Ready, n: number, tweak: Tweak = NOMINAL): number {
  const load = total(ready.awake) * tweak.currentFactor
  if (ready.reservoir?.place !== 'after-reed') return ready.filledOnce + load * n
  const perVolt = ready.reservoir.farads / COULOMBS_PER_MAH
  const first = load + perVolt * ready.cell.newVolts.value
  const fall = perVolt * (ready.cell.ageing?.value ?? 0) * tweak.ageingFactor * n
  return first * n * (fall > 0 ? -Math.expm1(-fall) / fall : 1)
}

/**
 * Charge through a bleed after n openings, mAh: its current follows the rested volts, which fall in proportion to the
 * hard charge. Where a table gives the volts, those of a new cell are taken.
 */
export function bledAfter(ready: Ready, n: number, tweak: Tweak = NOMINAL): number {
  const { cell, bledPerVolt } = ready
  if (bledPerVolt === 0) return 0
  const volts = cell.newVolts.value
  const last = cell.ageing ? Math.max(0, restedVolts(cell, hardAfter(ready, n, tweak), 0, tweak)) : volts
  return (bledPerVolt * n * (volts + last)) / 2
}

/** All charge that is gone when opening n + 1 begins to be in doubt: the time open counts from the one before it. */
export function totalAfter(ready: Ready, n: number, tweak: Tweak = NOMINAL): number {
  const whole = Math.max(0, n - 1)
  return total(ready.idle) + hardAfter(ready, n, tweak) + total(ready.soft) * whole + bledAfter(ready, whole, tweak)
}

/** Least volts at the module with the cell as it is after n openings; undefined when the module never starts. */
export function minimumAfter(ready: Ready, n: number, tweak: Tweak = NOMINAL): number | undefined {
  const cell = cellAfter(ready.cell, hardAfter(ready, n, tweak), totalAfter(ready, n, tweak), ready.ohmsByCold, tweak)
  const beside = ready.lampMilliamps
  const load = ready.load.map(phase => ({
    ...phase,
    milliamps: phase.milliamps * tweak.currentFactor + beside,
    ...(phase.burst
      ? { burst: { ...phase.burst, milliamps: phase.burst.milliamps * tweak.currentFactor + beside } }
      : {}),
  }))
  const { reservoir } = ready
  if (!reservoir) return simulateOpening(cell, load).minimumVolts
  const { farads, ohms, bleedOhms } = reservoir
  if (reservoir.place === 'after-reed') {
    const empty = { farads, ohms, volts: 0, bleedOhms }
    return simulateStart(cell, load, empty, reservoir.startVolts, beside)?.minimumVolts
  }
  const divided = bleedOhms > 0 ? bleedOhms / (bleedOhms + cell.seriesOhms + cell.polarisationOhms) : 1
  const full = { farads, ohms, volts: cell.restedVolts * divided, bleedOhms }
  return simulateOpening(cell, load, { reservoir: full }).minimumVolts
}

/**
 * Openings until the first limit, by root finding: the volts under load reach the reset, or the capacity is gone, or
 * (with `known`) the rested volts leave what is known.
 */
export function lifeOf(ready: Ready, tweak: Tweak, known: boolean): Life {
  const reset = ready.resetVolts + tweak.resetVoltsMore
  const margin = (n: number): number => (minimumAfter(ready, n, tweak) ?? Number.NEGATIVE_INFINITY) - reset
  const newMinimum = minimumAfter(ready, 0, tweak) ?? Number.NaN
  const end = (openings: number, endedBy: EndedBy, cut = false): Life => ({
    endedBy,
    cut,
    newMinimum,
    ...endAfter(ready, openings, tweak),
  })
  const left = ready.capacity - totalAfter(ready, 0, tweak)
  if (left <= 0) return end(0, 'capacity')
  if (!(newMinimum >= reset)) return end(0, 'never-starts')
  const most = left / (total(ready.awake) * tweak.currentFactor)
  const over = (n: number): number => totalAfter(ready, n, tweak) - ready.capacity
  const byCapacity = over(most) <= 0 ? most : root(over, 0, most)
  const byVolts = margin(byCapacity) >= 0 ? Number.POSITIVE_INFINITY : root(n => bounded(margin(n)), 0, byCapacity)
  const { ageing } = ready.cell
  if (known && ageing) {
    const until = (ready.cell.newVolts.value - knownVoltsOf(ready.cell)) / (ageing.value * tweak.ageingFactor)
    const fall = (n: number): number => hardAfter(ready, n, tweak) - until
    const byKnown = fall(byCapacity) <= 0 ? Number.POSITIVE_INFINITY : fall(0) >= 0 ? 0 : root(fall, 0, byCapacity)
    // Less than a tenth of an opening is no knowledge.
    if (byKnown < Math.min(byVolts, byCapacity) - 0.1) return end(byKnown, 'volts', true)
  }
  return byVolts < byCapacity ? end(byVolts, 'volts') : end(byCapacity, 'capacity')
}

/** Where a cell stands that ends after so many openings. */
export function endAfter(
  ready: Ready,
  openings: number,
  tweak: Tweak = NOMINAL,
): Omit<Life, 'endedBy' | 'cut' | 'newMinimum'> {
  const hard = hardAfter(ready, openings, tweak)
  return {
    openings,
    endMinimum: minimumAfter(ready, openings, tweak) ?? Number.NaN,
    endRested: restedVolts(ready.cell, hard, totalAfter(ready, openings, tweak), tweak),
    hard,
    filled: Math.max(0, hard - total(ready.awake) * tweak.currentFactor * openings),
  }
}

const bounded = (volts: number): number => Math.max(volts, -1000)
