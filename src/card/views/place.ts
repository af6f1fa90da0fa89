import type { Scene } from '../select/scene.ts'
import type { CardOpening } from '../state/house.ts'

export const floorName = (floor: number, { words }: Pick<Scene, 'words'>): string =>
  floor === 0 ? words.say('groundFloor') : words.say('floor', { n: floor })

/** Side, as the register writes it, and floor. */
export const placeOf = ({ at }: Pick<CardOpening, 'at'>, scene: Pick<Scene, 'words'>): string =>
  at ? `${at.side}, ${at.floor === 0 ? scene.words.say('onGround') : scene.words.say('onFloor', { n: at.floor })}` : ''
