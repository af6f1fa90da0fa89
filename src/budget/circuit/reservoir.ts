import { aboveZero, atLeastZero, mustBeObject } from '../check.ts'
import { must } from '../must.ts'
import { PLACES, type Reservoir, type ReservoirPlace } from '../types.ts'

/** Defaults of a reservoir: a part of this kind; read its sheet. */
export const RESERVOIR = { ohms: 0.5, leakMicroamps: 5, startVolts: 2.6 } as const

export interface ReadyReservoir {
  readonly farads: number
  readonly place: ReservoirPlace
  readonly ohms: number
  readonly leakMicroamps: number
  readonly startVolts: number
  /** 0: none. */
  readonly bleedOhms: number
}

/** @throws RangeError that names the argument and the value */
export function readyReservoir(given: Reservoir | undefined): ReadyReservoir | undefined {
  if (given === undefined) return undefined
  mustBeObject('reservoir', given, 'a reservoir with farads and place')
  if (given.farads === 0) return undefined
  must(given.farads >= 1e-9 && given.farads <= 1000, 'reservoir.farads', given.farads, '0, or from 1e-9 to 1000')
  must(PLACES.includes(given.place), 'reservoir.place', given.place, `one of ${PLACES.join(', ')}`)
  const ready: ReadyReservoir = {
    farads: given.farads,
    place: given.place,
    ohms: given.ohms ?? RESERVOIR.ohms,
    leakMicroamps: given.leakMicroamps ?? RESERVOIR.leakMicroamps,
    startVolts: given.startVolts ?? RESERVOIR.startVolts,
    bleedOhms: given.bleedOhms ?? 0,
  }
  atLeastZero('reservoir.ohms', ready.ohms)
  atLeastZero('reservoir.leakMicroamps', ready.leakMicroamps)
  aboveZero('reservoir.startVolts', ready.startVolts)
  atLeastZero('reservoir.bleedOhms', ready.bleedOhms)
  return ready
}

/**
 * Seconds until a reservoir that nothing fills any more falls from one voltage to another: C (V - reset) / I, or with a
 * bleed the exponential of it.
 * @param milliamps - what is drawn from it beside the bleed
 */
export function secondsToFall(
  { farads, bleedOhms }: ReadyReservoir,
  from: number,
  to: number,
  milliamps: number,
): number {
  const amps = milliamps / 1000
  if (from <= to) return 0
  if (bleedOhms === 0) return amps > 0 ? (farads * (from - to)) / amps : Number.POSITIVE_INFINITY
  const drop = amps * bleedOhms
  return bleedOhms * farads * Math.log((from + drop) / (to + drop))
}
