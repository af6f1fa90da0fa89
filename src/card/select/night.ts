import { MINUTE } from '../../text/time.ts'
import { localOf } from '../../text/time-zone.ts'
import type { Scene } from './scene.ts'

/** At night the sheet dims when nobody has touched it for this long. */
const DIM_MILLISECONDS = MINUTE
const [NIGHT_FROM, NIGHT_TO] = [22, 6]

export function isNight({ house, now }: Pick<Scene, 'house' | 'now'>, idle: number): boolean {
  if (idle <= DIM_MILLISECONDS) return false
  const { hour } = localOf(now, house.timezone)
  return hour >= NIGHT_FROM || hour < NIGHT_TO
}
