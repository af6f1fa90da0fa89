import type { CellModel, LoadPhase } from '../types.ts'
import { knownVoltsOf } from './ageing.ts'
import { loadMillicoulombs } from './simulate.ts'

/** Most ohms that a new coin cell can have: 3.20 V over a short-circuit current of 300 mA at least (PSG90906, Table I). */
const MOST_OHMS = 10.7

const COULOMBS = 3600

/** Milliseconds awake. */
export const awakeMilliseconds = (load: readonly LoadPhase[]): number =>
  load.reduce((sum, { milliseconds }) => sum + milliseconds, 0)

/** Most that a load draws, in mA. */
export const peakMilliamps = (load: readonly LoadPhase[]): number =>
  load.reduce((most, { milliamps, burst }) => Math.max(most, milliamps, burst?.milliamps ?? 0), 0)

/**
 * The cell with the resistance that makes its known count stand under another load or with another reset.
 *
 * What is known is a count of sends, not a resistance: the resistance follows from what the load is taken to draw and
 * where the module is taken to reset. So a load of own phases is drawn out to the time awake for which the count is
 * known, and the resistance is what lets it give that count; then a shorter one gives more. The resistance never
 * rises above what a maker's short-circuit current allows: a load that is gentler than that leaves the count a lower
 * bound. A cell without a known count, or with a polarisation of its own, stays as it is.
 */
export function anchored(cell: CellModel, load: readonly LoadPhase[], resetVolts: number): CellModel {
  const { anchor, polarisationOhms = 0 } = cell
  if (!anchor || polarisationOhms > 0) return cell
  const awake = awakeMilliseconds(anchor.load)
  /** Rested volts after the count. */
  const endOf = (phases: readonly LoadPhase[]): number => {
    const charge = (loadMillicoulombs(phases) * awake) / awakeMilliseconds(phases) / COULOMBS
    return cell.newVolts.value - anchor.voltsPerMilliampHour * charge * anchor.sends
  }
  const ohmsFor = (phases: readonly LoadPhase[], reset: number): number =>
    ((endOf(phases) - reset) / peakMilliamps(phases)) * 1000
  const before = ohmsFor(anchor.load, anchor.resetVolts)
  const by = ohmsFor(load, resetVolts) / before
  if (!(before > 0 && by > 0) || Math.abs(by - 1) < 1e-9) return cell
  const { seriesOhms, ageing } = cell
  const most = Math.max(MOST_OHMS, seriesOhms.value)
  const value = Math.min(seriesOhms.value * by, most)
  const source =
    value < most
      ? `${seriesOhms.value.toFixed(2)} ohm, set anew so that the known ${anchor.sends.toFixed(0)} sends of ${(awake / 1000).toFixed(1)} s stand under this load and reset`
      : `at most ${most.toFixed(1)}: this load is gentler, or resets later, than the known count asks for`
  // The count itself tells how this cell ages, down to where it ends.
  const isItsOwn = ageing?.value === anchor.voltsPerMilliampHour
  const known = isItsOwn ? { ageing: { ...ageing, knownVolts: Math.min(knownVoltsOf(cell), endOf(load)) } } : {}
  return { ...cell, ...known, seriesOhms: { ...seriesOhms, value, status: 'assumption', source } }
}
