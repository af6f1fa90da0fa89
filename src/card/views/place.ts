import type { Scene } from '../select/scene.ts'
import type { CardOpening } from '../state/house.ts'

export const floorName = (floor: number, { words }: Pick<Scene, 'words'>): string =>
  floor === 0 ? words.say('groundFloor') : words.say('floor', { n: floor })

const COMPASS = ['south', 'east', 'north', 'west'] as const

/** The four points of the compass in the language of the wall; any other name of a side is the person's own. */
export function sideName(side: string, { words }: Pick<Scene, 'words'>): string {
  const point = COMPASS.find(each => each === side)
  return point ? words.say(`side-${point}`) : side
}

/** Side and floor, as far as they are known: seen from outside, never left or right. */
export const placeOf = ({ at }: Pick<CardOpening, 'at'>, scene: Pick<Scene, 'words'>): string =>
  at
    ? `${sideName(at.side, scene)}, ${at.floor === 0 ? scene.words.say('onGround') : scene.words.say('onFloor', { n: at.floor })}`
    : ''
