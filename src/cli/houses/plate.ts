/** What the page of houses says of one house: in the words of the house's own wall. */
import { byNeed, isNeededNow } from '../../budget/advice/next-cells.ts'
import { type HeadTone, headline, headTone } from '../../card/words/headline.ts'
import { named, tellJob } from '../../card/words/tell.ts'
import { type When, whenIn } from '../../card/words/when.ts'
import type { Words } from '../../card/words/words.ts'
import { cellNeedOf } from '../../house/cell-need.ts'
import type { LastKnown } from '../../keeper/houses/kept-house.ts'
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
  /** Why it has none or no wall, without a name of anything; empty: nothing is wrong. The log says the rest. */
  readonly problem: string
}

/** A house as it is now. */
export interface HouseNow {
  readonly name: string
  readonly register: Register | undefined
  readonly known: LastKnown | undefined
  readonly verdict: Verdict
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
  const { isWell, reason } = verdict
  const register = house.register ?? known?.register
  const when = whenIn(words.lang, register?.timezone ?? 'UTC')
  const wall = register && wallBroker(register, isOverTls)
  const keeper = isWell ? live(house, own) : heard(known, context, when)
  const noWall = wall && 'why' in wall ? own.noWall : ''
  const problem = !isWell && reason ? own.reasons[reason] : noWall
  const common = {
    name,
    title: register?.house ?? name,
    hasWall: wall !== undefined && 'url' in wall,
    keeper: problem === '' ? keeper : `${keeper}.`,
    isHeard: isWell,
    problem,
  }
  if (!known) return { ...common, tone: 'doubt', headline: own.nothingKnown, headlineLost: own.nothingKnown, cell: '' }
  const readings = [...known.readings.values()]
  const head = countsOf(readings, isWell)
  return {
    ...common,
    tone: headTone(head),
    headline: sentence(head, isWell, words),
    headlineLost: sentence(countsOf(readings, false), false, words),
    cell: nextCell(known, when, context),
  }
}

/** The headline of the house's own wall; with what the wall counts beside it, since a plate has no counts. */
function sentence(head: Headline, fresh: boolean, words: Words): string {
  const unsure = head.mayBeOpen > 0 && head.notCertain > 0 ? [words.say('unsure', { n: head.notCertain })] : []
  return [words.say(...headline({ head, fresh })), ...unsure].join(' · ')
}

function live({ verdict: { reason }, hasProblem }: HouseNow, own: HousesWords): string {
  if (reason === 'register') return own.liveBroken
  if (reason === 'clash') return own.liveClash
  return hasProblem ? own.liveAndSays : own.live
}

const heard = (known: LastKnown | undefined, { own, now }: PlateContext, when: When): string =>
  known?.beatAt === undefined ? own.neverHeard : own.heard(when.at(known.beatAt, now))

/** Where the cell to see to next is, by when, and what it has left; before that, what is to be opened as a test. */
function nextCell({ register, readings }: LastKnown, when: When, { words, own, now }: PlateContext): string {
  const all = register.openings.flatMap(opening => {
    const reading = readings.get(opening.mark)
    return reading ? [{ opening, reading, need: cellNeedOf(reading) }] : []
  })
  const cells = all.filter(({ opening }) => opening.sender.power === 'cell').sort((a, b) => byNeed(a.need, b.need))
  const next = cells[0]
  const untried = all.filter(({ reading: { last, provenAt } }) => last === undefined && provenAt === undefined)
  if (untried.length > 0 && !(next && isNeededNow(next.need)))
    return own.untried(named(untried.map(({ opening }) => opening.mark)))
  if (!next) return ''
  const { opening, reading, need } = next
  const { changeBy = Number.POSITIVE_INFINITY } = need
  if (!isNeededNow(need) && !Number.isFinite(changeBy)) return words.say(reading.left ? 'jobsNone' : 'jobsUnknown')
  const by = isNeededNow(need) || changeBy <= now ? own.now : own.by(when.date(changeBy, now))
  const left = tellJob({ opening: opening.sender, reading }, { words, when, now })
  return `${own.cell(opening.mark, opening.room ?? opening.name)} · ${by} · ${left}`
}
