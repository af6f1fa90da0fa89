import { iso } from '../../text/time.ts'
import { lookOver } from '../state/look.ts'
import { shownReadings } from '../state/readings.ts'
import { blank } from '../state/row.ts'
import { shownHouse } from '../state/shown.ts'
import { change, type Turn } from './turn.ts'

/** Whoever has the last look round before them: from now on nothing in it moves. */
export function holdLook(turn: Turn): Turn {
  const { state, stamp } = turn
  const house = shownHouse(state)
  if (!house || state.chosen.view !== 'last-look' || state.deeds.look) return turn
  const readings = shownReadings(state)
  const rows = house.openings.map(opening => {
    const { mark } = opening
    return { opening, reading: readings.get(mark) ?? blank(mark, iso(stamp.now)) }
  })
  return change(turn, 'deeds', { look: lookOver(rows, house.sides) })
}
