/** The reading of every opening that is shown: the keeper's, this tablet's own, or what both last knew. */
import type { Reading } from '../../protocol/reading.ts'
import { type Keeper, toldUntil } from './keeper.ts'
import { mayBeOpen } from './row.ts'
import type { CardState } from './state.ts'

export type Readings = ReadonlyMap<string, Reading>

const NOTHING: Readings = new Map()

/** @param blend - as `knownBy`: one that remembers its last answer spares a card that draws its work */
export function shownReadings({ shown, keeper, tally, joinedAt }: CardState, blend = knownBy): Readings {
  const own = tally.counted?.readings ?? NOTHING
  return shown === 'keeper' ? keeper.readings : blend(own, keeper, shown === 'kept', joinedAt)
}

const timeOf = (text: string | undefined): number => (text === undefined ? Number.NEGATIVE_INFINITY : Date.parse(text))

/** When it was last heard open; a word said again leaves `since` as it is, and its rest word comes after it. */
const openAt = ({ since, last, provenAt }: Reading): number =>
  Math.max(timeOf(since), timeOf(provenAt), timeOf(last?.word === 'opened' ? last.at : undefined))

/** What was last known by the keeper or here: what the one calls open the other's older knowledge does not hide. */
export function knownBy(own: Readings, keeper: Keeper, isKept: boolean, joinedAt: number): Readings {
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
