/**
 * Ranges held against the truth, in houses where it is known. Simulated, no source: what is simulated is written in
 * houses.ts, apart from the forecast. Rows are all that a wall would show, silent ones too; a dead cell has 0 left.
 */
import { leftByMark } from '../../src/budget/lives/left.ts'
import { passDay, startHouse, trulyLeft, type World, walk } from './houses.ts'
import { historiesOf, timeIn } from './tallied.ts'

export interface Coverage {
  /** Share of the rows whose range of nine in ten holds the truth. */
  readonly held: number
  /** Mean width of a range, openings. */
  readonly width: number
}

/** After 100 to 730 days, dead cells found on half-yearly walks. */
export function coverageOf(world: World, houses: number): Coverage {
  let [held, width, rows] = [0, 0, 0]
  for (let h = 0; h < houses; h++) {
    const house = startHouse(world, 7000 + h)
    const last = 100 + Math.floor(house.random() * 630)
    while (house.day < last) {
      passDay(house)
      if (house.day % 182 === 0) walk(house)
    }
    const left = leftByMark(historiesOf(house), { now: timeIn(house, house.day) })
    for (const contact of house.contacts) {
      const { p05, p95 } = left[contact.mark]!
      const truth = trulyLeft(house, contact)
      if (truth >= p05 && truth <= p95) held++
      width += p95 - p05
      rows++
    }
  }
  return { held: held / rows, width: width / rows }
}
