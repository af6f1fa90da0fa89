import { MINUTE } from '../../text/time.ts'
import type { Scene } from './scene.ts'

/** At night the sheet dims when nobody has touched it for this long. */
const DIM_MILLISECONDS = MINUTE
const [NIGHT_FROM, NIGHT_TO] = [22, 6]

export function isNight({ when, now }: Scene, idle: number): boolean {
  if (idle <= DIM_MILLISECONDS) return false
  const hour = when.hour(now)
  return hour >= NIGHT_FROM || hour < NIGHT_TO
}
