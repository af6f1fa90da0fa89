import { saysTheSame } from '../../house/readings.ts'
import type { Reading } from '../../protocol/reading.ts'
import { iso } from '../../text/time.ts'
import type { CardHouse } from '../state/house.ts'
import { knownBy, shownReadings } from '../state/readings.ts'
import { blank, type Row } from '../state/row.ts'
import type { CardState } from '../state/state.ts'
import { remembering } from './remembering.ts'

/** The rows of one card: a row is the same object while it says the same, and so is the list of them. */
export class Rows {
  readonly #known = remembering(knownBy)
  #house: CardHouse | undefined
  #rows: readonly Row[] = []
  /** What each row was last compared with: a reading made anew may say the same. */
  #seen: (Reading | undefined)[] = []
  /** Where each mark stands among the openings. */
  #places: ReadonlyMap<string, number> = new Map()

  readonly of = (mark: string): Row | undefined => this.#rows[this.#places.get(mark) ?? -1]

  read(state: CardState, house: CardHouse, now: number): readonly Row[] {
    const readings = shownReadings(state, this.#known)
    const { openings } = house
    if (house !== this.#house) this.#places = new Map(openings.map(({ mark }, index) => [mark, index]))
    this.#house = house
    const [before, seen] = [this.#rows, this.#seen]
    this.#seen = []
    let isNew = openings.length !== before.length
    const rows = openings.map((opening, index): Row => {
      const row = before[index]
      const said = readings.get(opening.mark)
      this.#seen.push(said)
      if (row?.opening === opening && said === seen[index]) return row
      const reading = said ?? blank(opening.mark, iso(now))
      if (row?.opening === opening && saysTheSame(row.reading, reading)) return row
      isNew = true
      return { opening, reading }
    })
    if (isNew) this.#rows = rows
    return this.#rows
  }
}
