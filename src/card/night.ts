import type { Scene } from './scene.ts'
import type { When } from './when.ts'

/** At night the sheet dims when nobody has touched it for this long. */
const DIM_MILLISECONDS = 60_000
const [NIGHT_FROM, NIGHT_TO] = [22, 6]

let asked: { readonly when: When; readonly quarter: number; readonly night: boolean } | undefined

export function isNight({ when, now }: Scene, idle: number): boolean {
  if (idle <= DIM_MILLISECONDS) return false
  // Zones differ by quarters of an hour.
  const quarter = Math.floor(now / 900_000)
  if (asked?.when !== when || asked.quarter !== quarter) {
    const hour = when.hour(now)
    asked = { when, quarter, night: hour >= NIGHT_FROM || hour < NIGHT_TO }
  }
  return asked.night
}
