import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Reading } from '../../protocol/reading.ts'
import type { Shown } from '../select/scene.ts'
import type { CardHouse } from '../state/house.ts'
import { blank, mayBeOpen, type Row, saysTheSame } from '../state/row.ts'
import type { KeeperSide } from './keeper-side.ts'
import type { OwnTally } from './own-tally.ts'
import type { Wire } from './wire.ts'

/** After the link came up a keeper has this long to be heard before it is called silent. */
const AWAIT_MILLISECONDS = 40_000

const timeOf = (iso: string | undefined): number => (iso === undefined ? Number.NEGATIVE_INFINITY : Date.parse(iso))

/** When it was last heard open; a word said again leaves `since` as it is, and its rest word comes after it. */
const openAt = ({ since, last, provenAt }: Reading): number =>
  Math.max(timeOf(since), timeOf(provenAt), timeOf(last?.word === 'opened' ? last.at : undefined))

interface Sources {
  readonly own: OwnTally
  readonly keeper: KeeperSide
  readonly wire: Wire
}

/** Chooses whose readings are shown, and keeps a row the same object while it says the same. */
export class Readings implements ReactiveController {
  house: CardHouse | undefined
  rows: readonly Row[] = []
  shown: Shown = 'own'
  /** The house of the register file. */
  fileHouse: CardHouse | undefined
  readonly #sources: Sources
  /** Where each mark stands among the openings. */
  #places: ReadonlyMap<string, number> = new Map()
  /** What each row was last compared with: a reading made anew may say the same. */
  #seen: (Reading | undefined)[] = []
  /** When the link was last live, milliseconds. */
  #liveAt: number | undefined

  constructor(host: ReactiveControllerHost, sources: Sources) {
    this.#sources = sources
    host.addController(this)
  }

  hostConnected(): void {}

  /** A keeper works in this house: something of it was heard, be it only a kept word or before the page was loaded. */
  get usesKeeper(): boolean {
    return this.#sources.keeper.used
  }

  /** The link, and the keeper where one is used, are live. */
  get fresh(): boolean {
    const { wire } = this.#sources
    return wire.state.state === 'live' && (this.usesKeeper ? this.#hearsKeeper : !wire.state.partial)
  }

  /** It beats, and its readings may be read. */
  get #hearsKeeper(): boolean {
    const { wire, keeper } = this.#sources
    return keeper.fresh && !(wire.state.state === 'live' && keeper.isDeaf(wire.state.deafTo))
  }

  /** The link came up a moment ago: a beat may still come. */
  awaits(now: number): boolean {
    const { wire, keeper } = this.#sources
    const state = keeper.note?.state ?? 'live'
    return state === 'live' && wire.liveSince !== undefined && Math.abs(now - wire.liveSince) < AWAIT_MILLISECONDS
  }

  /** While the link is down: when what is shown was last known to be so, milliseconds. */
  get knownAt(): number | undefined {
    return this.#liveAt ?? this.#lastHeard()
  }

  readonly rowOf = (mark: string): Row | undefined => this.rows[this.#places.get(mark) ?? -1]

  read(now: number): void {
    const { own, keeper, wire } = this.#sources
    if (wire.state.state === 'live') this.#liveAt = now
    // A tablet that may not hear the contacts has nothing of its own to put in the place of what the keeper last said.
    const hasOwn = own.hears || (own.hasHeard && !this.usesKeeper)
    // While a keeper may only be out of hearing it knows more than this tablet.
    const isAbsent = wire.state.state === 'live' ? !this.awaits(now) : this.shown === 'own'
    const isKept = keeper.readings.size > 0 && !(hasOwn && isAbsent)
    this.shown = this.#hearsKeeper ? 'keeper' : isKept ? 'kept' : 'own'
    const house = this.shown === 'own' ? this.fileHouse : (keeper.house ?? this.fileHouse)
    const readings = this.shown === 'keeper' ? keeper.readings : this.#known(now)
    const openings = house?.openings ?? []
    if (house !== this.house) this.#places = new Map(openings.map(({ mark }, index) => [mark, index]))
    this.house = house
    const seen = this.#seen
    this.#seen = []
    let isNew = openings.length !== this.rows.length
    const rows = openings.map((opening, index): Row => {
      const before = this.rows[index]
      const said = readings.get(opening.mark)
      this.#seen.push(said)
      if (before?.opening === opening && said === seen[index]) return before
      const reading = said ?? blank(opening.mark, new Date(now).toISOString())
      if (before?.opening === opening && saysTheSame(before.reading, reading)) return before
      isNew = true
      return { opening, reading }
    })
    if (isNew) this.rows = rows
  }

  /** What was last known by the keeper or here: what the one calls open the other's older knowledge does not hide. */
  #known(now: number): ReadonlyMap<string, Reading> {
    const { own, keeper } = this.#sources
    const here = own.readings(now)
    if (keeper.readings.size === 0) return here
    const isKept = this.shown === 'kept'
    const known = new Map(isKept ? keeper.readings : here)
    for (const [mark, mine] of here) {
      const said = keeper.readings.get(mark)
      const isMineOpen = mayBeOpen({ reading: mine })
      const isSaidOpen = said !== undefined && mayBeOpen({ reading: said })
      if (isKept) {
        if (!said || (isMineOpen && !isSaidOpen && openAt(mine) >= keeper.toldAt(mark))) known.set(mark, mine)
      } else if (isSaidOpen && !isMineOpen && !(timeOf(mine.since) >= openAt(said))) known.set(mark, said)
    }
    return known
  }

  #lastHeard(): number | undefined {
    const times = this.rows.flatMap(({ reading }) => (reading.last ? [Date.parse(reading.last.at)] : []))
    return times.length > 0 ? Math.max(...times) : undefined
  }
}
