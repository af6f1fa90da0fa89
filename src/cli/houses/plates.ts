/** What the page of houses says, at a moment and since another. */
import { createHash, randomBytes } from 'node:crypto'
import { named } from '../../card/words/tell.ts'
import { whenIn } from '../../card/words/when.ts'
import { wordsFor } from '../../card/words/words.ts'
import { type GoneHouse, type KeptHouse, knownOf } from '../../keeper/houses/kept-house.ts'
import { verdictOf } from '../../keeper/publish/verdict.ts'
import { turnOf } from '../../keeper/turns.ts'
import { DAY, MINUTE } from '../../text/time.ts'
import type { Lang } from '../tally/wishes.ts'
import { type Plate, type PlateContext, plateOf } from './plate.ts'
import { HOUSES_WORDS } from './words.ts'

/** The page of houses at a moment. */
export interface HousesNote {
  readonly summary: string
  /** In its place once this page is not live. */
  readonly lost: string
  /** Another one: the page has other houses, names or walls, not only other texts. */
  readonly frame: string
  /** Asked with it, `Plates.note` tells what is new since. */
  readonly version: string
  readonly plates: readonly PlacedPlate[]
}

export interface PlacedPlate extends Plate {
  /** Its place on the page, from 0. */
  readonly at: number
}

/** A plate, what it was made from, and since when it is as it is. While what it was made from is the same, so is the plate. */
interface Made {
  readonly from: readonly unknown[]
  readonly plate: Plate
  readonly version: number
}

/** Tells of all houses. They are looked at in turn with the keepers' own work. */
export class Plates {
  readonly #houses: () => readonly KeptHouse[]
  readonly #gone: () => readonly GoneHouse[]
  readonly #now: () => number
  readonly #isOverTls: boolean
  /** By language and by name. */
  readonly #made = new Map<Lang, Map<string, Made>>()
  /** Of this process: counts on with each change of a plate. */
  readonly #run = randomBytes(6).toString('hex')
  #version = 0

  /**
   * @param isOverTls - the page is: its walls can use no `ws:`
   * @param gone - houses that are kept no more; default: none
   */
  constructor(
    houses: () => readonly KeptHouse[],
    now: () => number,
    isOverTls: boolean,
    gone: () => readonly GoneHouse[] = () => [],
  ) {
    this.#houses = houses
    this.#gone = gone
    this.#now = now
    this.#isOverTls = isOverTls
  }

  /** @param after - version of an earlier note: plates that have not changed since are left out. Default: all */
  async note(lang: Lang, after = ''): Promise<HousesNote> {
    const now = this.#now()
    const context = { words: wordsFor([lang]), own: HOUSES_WORDS[lang], now, isOverTls: this.#isOverTls }
    const houses = this.#houses()
    const made = this.#made.get(lang) ?? new Map<string, Made>()
    this.#made.set(lang, made)
    await Promise.all(houses.map(house => turnOf(() => this.#look(house, context, made))))
    const names = new Set(this.#houses().map(({ name }) => name))
    for (const name of made.keys()) if (!names.has(name)) made.delete(name)
    const all = houses.flatMap(({ name }, at) => {
      const each = made.get(name)
      return each ? [{ at, ...each }] : []
    })
    const plates = all.map(({ plate }) => plate)
    const when = whenIn(context.words.lang, houses.find(({ register }) => register)?.register?.timezone ?? 'UTC')
    const source = `${this.#run}.${lang}.`
    const known = after.startsWith(source) ? Number.parseInt(after.slice(source.length), 10) : -1
    return {
      summary: [...summary(plates, context), ...gone(this.#gone(), context)].join(' '),
      lost: context.words.say('staleBand', { at: `${when.day(now)}, ${when.clock(now)}` }),
      frame: frameOf(plates),
      version: `${source}${this.#version}`,
      plates: all.flatMap(({ at, plate, version }) => (version <= known ? [] : [{ at, ...plate }])),
    }
  }

  #look(house: KeptHouse, context: PlateContext, made: Map<string, Made>): void {
    const { name, keeper, register, trouble } = house
    const known = knownOf(house)
    const vitals = keeper?.vitals()
    const verdict = verdictOf(vitals, trouble?.code)
    const { isWell, reason } = verdict
    const given = { name, register, known, verdict, hasProblem: vitals?.hasProblem === true }
    const minute = Math.floor(context.now / MINUTE)
    const told = isWell ? given.hasProblem : known?.beatAt
    const from = [register, known?.register, known?.readings, isWell, reason, told, minute]
    const before = made.get(name)
    if (before && from.every((each, index) => each === before.from[index])) return
    const plate = plateOf(given, context)
    const isSame = before && JSON.stringify(plate) === JSON.stringify(before.plate)
    made.set(name, { from, plate, version: isSame ? before.version : ++this.#version })
  }
}

function frameOf(plates: readonly Plate[]): string {
  const frame = plates.map(({ name, title, hasWall }) => [name, title, hasWall])
  return createHash('sha256').update(JSON.stringify(frame)).digest('base64url')
}

/** Which houses want a look, the gravest first; where they stand on the page never changes. */
function summary(plates: readonly Plate[], { own }: PlateContext): readonly string[] {
  if (plates.length === 0) return [own.noHouse]
  if (plates.every(({ tone }) => tone === 'shut')) return [own.allShut(plates.length)]
  const open = plates.filter(({ tone }) => tone === 'unseen')
  const unheard = plates.filter(({ isHeard }) => !isHeard)
  const unsure = plates.filter(({ tone, isHeard }) => tone === 'doubt' && isHeard)
  const names = (of: readonly Plate[]): string => named(of.map(({ name }) => name))
  return [
    ...(open.length > 0 ? [own.mayBeOpen(open.length, names(open))] : []),
    ...(unheard.length > 0 ? [own.noKeeper(unheard.length, names(unheard))] : []),
    ...(unsure.length > 0 ? [own.notCertain(unsure.length, names(unsure))] : []),
  ]
}

/** For a day, so that a slip with a file is seen: without it a house fewer would read as an all-clear. */
function gone(houses: readonly GoneHouse[], { words, own, now }: PlateContext): readonly string[] {
  const late = houses.filter(({ at }) => now - at < DAY)
  const each = late.map(({ name, register, at }) =>
    own.goneSince(name, whenIn(words.lang, register?.timezone ?? 'UTC').at(at, now)),
  )
  return each.length > 0 ? [own.gone(each.join(', '))] : []
}
