import type { BudgetSender, LoadPhase } from '../types.ts'
import { type Life, lifeOf, NOMINAL } from './life.ts'
import { type Ready, readySender } from './sender.ts'
import { loadMillicoulombs } from './simulate.ts'

/** Whole openings for show; a real count that is whole but for rounding is not cut. */
export const wholeOpenings = (openings: number): number => Math.floor(openings + 1e-9)

/** What the model says of one new cell. */
export interface NewCell {
  readonly ready: Ready
  readonly life: Life
  /** Its bursts could not start, to these volts: the model is wrong there, and the mean current was taken. */
  readonly refutedVolts?: number
}

/**
 * A new cell under this kind of contact.
 *
 * Modules that draw bursts do run on such cells, so where bursts cannot start it is the model that is wrong (a cell's
 * resistance to a short burst is lower, and the module has capacitors of its own): the mean current is taken instead.
 * Where not even that starts, the module does not.
 * @throws RangeError that names the argument and the value
 */
export function newCell(sender: BudgetSender): NewCell {
  const ready = readySender(sender)
  const life = lifeOf(ready, NOMINAL, true)
  if (life.endedBy !== 'never-starts' || !ready.load.some(({ burst }) => burst)) return { ready, life }
  const meanReady = readySender({ ...sender, load: ready.load.map(mean) })
  const meanLife = lifeOf(meanReady, NOMINAL, true)
  if (meanLife.endedBy === 'never-starts') return { ready, life }
  return { ready: meanReady, life: meanLife, refutedVolts: life.newMinimum }
}

const mean = ({ burst: _, ...phase }: LoadPhase, at: number, load: readonly LoadPhase[]): LoadPhase => ({
  ...phase,
  milliamps: (loadMillicoulombs([load[at]!]) * 1000) / phase.milliseconds,
})
