import { saysTheSame } from '../../house/readings.ts'
import type { Reading } from '../../protocol/reading.ts'
import { iso } from '../../text/time.ts'
import type { CardHouse } from '../state/house.ts'
import { type Keeper, toldUntil } from '../state/keeper.ts'
import { blank, mayBeOpen, type Row } from '../state/row.ts'
import type { CardState } from '../state/state.ts'
import { remembering } from './remembering.ts'

type Readings = ReadonlyMap<string, Reading>

const NOTHING: Readings = new Map()

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

  read({ shown, keeper, tally, joinedAt }: CardState, house: CardHouse, now: number): readonly Row[] {
    const own = tally.counted?.readings ?? NOTHING
    const readings = shown === 'keeper' ? keeper.readings : this.#known(own, keeper, shown === 'kept', joinedAt)
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

const timeOf = (text: string | undefined): number => (text === undefined ? Number.NEGATIVE_INFINITY : Date.parse(text))

/** When it was last heard open; a word said again leaves `since` as it is, and its rest word comes after it. */
const openAt = ({ since, last, provenAt }: Reading): number =>
  Math.max(timeOf(since), timeOf(provenAt), timeOf(last?.word === 'opened' ? last.at : undefined))

/** What was last known by the keeper or here: what the one calls open the other's older knowledge does not hide. */
function knownBy(own: Readings, keeper: Keeper, isKept: boolean, joinedAt: number): Readings {
  if (keeper.readings.size === 0) return own
  const known = new Map(isKept ? keeper.readings : own)
  for (const [mark, mine] of own) {
    const said = keeper.readings.get(mark)
    const isMineOpen = mayBeOpen({ reading: mine })
    const isSaidOpen = said !== undefined && mayBeOpen({ reading: said })
    if (isKept) {
      const isNewer = isMineOpen && !isSaidOpen && openAt(mine) >= toldUntil(keeper, mark, joinedAt)
      if (!said || isNewer) known.set(mark, mine)
    } else if (isSaidOpen && !isMineOpen && !(timeOf(mine.since) >= openAt(said))) known.set(mark, said)
  }
  return known
}
