/** What the page of houses says of each house, at a moment: in the words of the house's own wall. */
import { byNeed, type CellNeed, isNeededNow } from '../../budget/advice/next-cells.ts'
import { type HeadTone, headline, headTone } from '../../card/words/headline.ts'
import { named, tellJob } from '../../card/words/tell.ts'
import { type When, whenIn } from '../../card/words/when.ts'
import { type Words, wordsFor } from '../../card/words/words.ts'
import type { KeptHouse } from '../../keeper/houses/kept-house.ts'
import { type Verdict, verdictOf } from '../../keeper/publish/verdict.ts'
import { headline as countsOf, type Headline } from '../../ledger/headline.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'
import { sha256Hex } from '../../text/sha256.ts'
import { MINUTE } from '../../text/time.ts'
import { wallBroker } from '../tally/wall-page.ts'
import type { Lang } from '../tally/wishes.ts'
import { HOUSES_WORDS, type HousesWords } from './words.ts'

/** The texts of one house. */
export interface Plate {
  /** Of the register's file, without its ending. */
  readonly name: string
  /** As the register calls the house. */
  readonly title: string
  /** Another one: the page's frame is another, not only its texts. */
  readonly key: string
  readonly hasWall: boolean
  readonly tone: HeadTone
  readonly headline: string
  /** In its place once this page is not live. */
  readonly headlineLost: string
  readonly cell: string
  readonly keeper: string
  readonly isHeard: boolean
  /** For who builds, in English and without a name of anything; empty: none. The log says the rest. */
  readonly problem: string
}

/** The page of houses at a moment. */
export interface HousesNote {
  readonly summary: string
  /** In its place once this page is not live. */
  readonly lost: string
  readonly plates: readonly Plate[]
}

/** What is known of a house whose keeper is not at work any more. */
interface Known {
  readonly register: Register
  readonly readings: ReadonlyMap<string, Reading>
  readonly beatAt: number | undefined
}

interface Context {
  readonly words: Words
  readonly own: HousesWords
  readonly now: number
}

/** A plate, and what it was made from: while that is the same, so is the plate. */
interface Made {
  readonly from: readonly unknown[]
  readonly plate: Plate
}

/** Tells of all houses; it remembers what was last known of a house whose keeper ended. */
export class Plates {
  readonly #houses: () => readonly KeptHouse[]
  readonly #now: () => number
  readonly #isOverTls: boolean
  readonly #known = new Map<string, Known>()
  /** By language and by name. */
  readonly #made = new Map<Lang, ReadonlyMap<string, Made>>()

  /** @param isOverTls - the page is: its walls can use no `ws:` */
  constructor(houses: () => readonly KeptHouse[], now: () => number, isOverTls: boolean) {
    this.#houses = houses
    this.#now = now
    this.#isOverTls = isOverTls
  }

  note(lang: Lang): HousesNote {
    const now = this.#now()
    const context = { words: wordsFor([lang]), own: HOUSES_WORDS[lang], now }
    const houses = this.#houses()
    const made = new Map(houses.map(house => [house.name, this.#plate(house, context, this.#made.get(lang))]))
    this.#made.set(lang, made)
    for (const name of this.#known.keys()) if (!made.has(name)) this.#known.delete(name)
    const plates = [...made.values()].map(({ plate }) => plate)
    const when = whenIn(context.words.lang, houses.find(({ register }) => register)?.register?.timezone ?? 'UTC')
    return {
      summary: summary(plates, context),
      lost: context.words.say('staleBand', { at: `${when.day(now)}, ${when.clock(now)}` }),
      plates,
    }
  }

  #plate(house: KeptHouse, context: Context, before: ReadonlyMap<string, Made> | undefined): Made {
    const { name, keeper, problem } = house
    const vitals = keeper?.vitals()
    const known = this.#knownOf(house, vitals?.beat?.at)
    const verdict = verdictOf(vitals, house.code)
    const { isWell, text } = verdict
    const hasProblem = vitals?.hasProblem === true
    const minute = Math.floor(context.now / MINUTE)
    const from = [house.register, known?.readings, problem, isWell || text, isWell || known?.beatAt, hasProblem, minute]
    const made = before?.get(name)
    if (made && from.every((each, index) => each === made.from[index])) return made
    return { from, plate: this.#make(house, verdict, hasProblem, known, context) }
  }

  #knownOf({ name, keeper }: KeptHouse, beatAt: number | undefined): Known | undefined {
    const before = this.#known.get(name)
    const { register, readings } = keeper?.state() ?? {}
    if (!register || !readings?.size) return before
    const known = { register, readings, beatAt: beatAt ?? before?.beatAt }
    this.#known.set(name, known)
    return known
  }

  #make(
    { name, register }: KeptHouse,
    verdict: Verdict,
    hasProblem: boolean,
    known: Known | undefined,
    context: Context,
  ): Plate {
    const { words, own } = context
    const house = register ?? known?.register
    const when = whenIn(words.lang, house?.timezone ?? 'UTC')
    const wall = house && wallBroker(house, this.#isOverTls)
    const title = house?.house ?? name
    const hasWall = wall !== undefined && 'url' in wall
    const common = {
      name,
      title,
      hasWall,
      key: sha256Hex(JSON.stringify([name, title, hasWall])),
      keeper: verdict.isWell ? (hasProblem ? own.liveAndSays : own.live) : heard(known, context, when),
      isHeard: verdict.isWell,
      problem: !verdict.isWell ? verdict.text : wall && 'why' in wall ? NO_WALL : '',
    }
    if (!known)
      return { ...common, tone: 'doubt', headline: own.nothingKnown, headlineLost: own.nothingKnown, cell: '' }
    const readings = [...known.readings.values()]
    const head = countsOf(readings, verdict.isWell)
    return {
      ...common,
      tone: headTone(head),
      headline: sentence(head, verdict.isWell, words),
      headlineLost: sentence(countsOf(readings, false), false, words),
      cell: nextCell(known, when, context),
    }
  }
}

/** The headline of the house's own wall; with what the wall counts beside it, since a plate has no counts. */
function sentence(head: Headline, fresh: boolean, words: Words): string {
  const unsure = head.mayBeOpen > 0 && head.notCertain > 0 ? [words.say('unsure', { n: head.notCertain })] : []
  return [words.say(...headline({ head, fresh })), ...unsure].join(' · ')
}

const NO_WALL = 'No wall: the register names no WebSocket address that this page can use.'

const heard = (known: Known | undefined, { own, now }: Context, when: When): string =>
  known?.beatAt === undefined ? own.neverHeard : own.heard(when.at(known.beatAt, now))

/** Where the cell to see to next is, by when, and what it has left. */
function nextCell({ register, readings }: Known, when: When, { words, own, now }: Context): string {
  const cells = register.openings.flatMap(opening => {
    const reading = readings.get(opening.mark)
    return opening.sender.power === 'cell' && reading ? [{ opening, reading, need: needOf(reading) }] : []
  })
  const next = cells.sort((a, b) => byNeed(a.need, b.need))[0]
  if (!next) return ''
  const { opening, reading, need } = next
  const { changeBy = Number.POSITIVE_INFINITY } = need
  const untried = cells.filter(({ reading: { last, provenAt } }) => last === undefined && provenAt === undefined)
  if (!isNeededNow(need) && untried.length > 0) return own.untried(named(untried.map(({ opening }) => opening.mark)))
  if (!isNeededNow(need) && !Number.isFinite(changeBy)) return words.say(reading.left ? 'jobsNone' : 'jobsUnknown')
  const by = isNeededNow(need) || changeBy <= now ? own.now : own.by(when.date(changeBy, now))
  const left = tellJob({ opening: opening.sender, reading }, { words, when, now })
  return `${own.cell(opening.mark, opening.room ?? opening.name)} · ${by} · ${left}`
}

const needOf = ({ doubts, unheardOnWalk, left }: Reading): CellNeed => ({
  doubts,
  unheardOnWalk,
  changeBy: left?.changeBy === undefined ? undefined : Date.parse(left.changeBy),
  next: left?.next,
})

/** Which houses want a look, the gravest first; where they stand on the page never changes. */
function summary(plates: readonly Plate[], { own }: Context): string {
  if (plates.length === 0) return own.noHouse
  if (plates.every(({ tone }) => tone === 'shut')) return own.allShut(plates.length)
  const open = plates.filter(({ tone }) => tone === 'unseen')
  const unheard = plates.filter(({ isHeard }) => !isHeard)
  const unsure = plates.filter(({ tone, isHeard }) => tone === 'doubt' && isHeard)
  const names = (of: readonly Plate[]): string => named(of.map(({ name }) => name))
  return [
    ...(open.length > 0 ? [own.mayBeOpen(open.length, names(open))] : []),
    ...(unheard.length > 0 ? [own.noKeeper(unheard.length, names(unheard))] : []),
    ...(unsure.length > 0 ? [own.notCertain(unsure.length, names(unsure))] : []),
  ].join(' ')
}
