/** What the page of houses says of one house: in the words of the house's own wall. */
import { byNeed, isNeededNow } from '../../budget/advice/next-cells.ts'
import { type HeadTone, headline, headTone } from '../../card/words/headline.ts'
import { named, tellJob } from '../../card/words/tell.ts'
import { type When, whenIn } from '../../card/words/when.ts'
import type { Words } from '../../card/words/words.ts'
import { cellNeedOf } from '../../house/cell-need.ts'
import type { LastKnown } from '../../keeper/houses/kept-house.ts'
import type { LogCode } from '../../keeper/log-codes.ts'
import type { Verdict } from '../../keeper/publish/verdict.ts'
import { headline as countsOf, type Headline } from '../../ledger/headline.ts'
import type { Register } from '../../register/types.ts'
import { wallBroker } from '../tally/wall-page.ts'
import type { HousesWords } from './words.ts'

/** The texts of one house. */
export interface Plate {
  /** Of the register's file, without its ending. */
  readonly name: string
  /** As the register calls the house. */
  readonly title: string
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

/** A house as it is now. */
export interface HouseNow {
  readonly name: string
  readonly register: Register | undefined
  readonly known: LastKnown | undefined
  readonly verdict: Verdict
  /** What is wrong with it. */
  readonly code: LogCode | undefined
  /** Something stands on the keeper's state. */
  readonly hasProblem: boolean
}

export interface PlateContext {
  readonly words: Words
  readonly own: HousesWords
  readonly now: number
  /** The page is: its walls can use no `ws:`. */
  readonly isOverTls: boolean
}

export function plateOf(house: HouseNow, context: PlateContext): Plate {
  const { name, known, verdict } = house
  const { words, own, isOverTls } = context
  const register = house.register ?? known?.register
  const when = whenIn(words.lang, register?.timezone ?? 'UTC')
  const wall = register && wallBroker(register, isOverTls)
  const common = {
    name,
    title: register?.house ?? name,
    hasWall: wall !== undefined && 'url' in wall,
    keeper: verdict.isWell ? live(house, own) : heard(known, context, when),
    isHeard: verdict.isWell,
    problem: !verdict.isWell ? verdict.text : wall && 'why' in wall ? NO_WALL : '',
  }
  if (!known) return { ...common, tone: 'doubt', headline: own.nothingKnown, headlineLost: own.nothingKnown, cell: '' }
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

/** The headline of the house's own wall; with what the wall counts beside it, since a plate has no counts. */
function sentence(head: Headline, fresh: boolean, words: Words): string {
  const unsure = head.mayBeOpen > 0 && head.notCertain > 0 ? [words.say('unsure', { n: head.notCertain })] : []
  return [words.say(...headline({ head, fresh })), ...unsure].join(' · ')
}

const NO_WALL = 'No wall: the register names no WebSocket address that this page can use.'

function live({ code, hasProblem }: HouseNow, own: HousesWords): string {
  if (code === 'register') return own.liveBroken
  if (code === 'clash') return own.liveClash
  return hasProblem ? own.liveAndSays : own.live
}

const heard = (known: LastKnown | undefined, { own, now }: PlateContext, when: When): string =>
  known?.beatAt === undefined ? own.neverHeard : own.heard(when.at(known.beatAt, now))

/** Where the cell to see to next is, by when, and what it has left. */
function nextCell({ register, readings }: LastKnown, when: When, { words, own, now }: PlateContext): string {
  const cells = register.openings.flatMap(opening => {
    const reading = readings.get(opening.mark)
    return opening.sender.power === 'cell' && reading ? [{ opening, reading, need: cellNeedOf(reading) }] : []
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
