import { allSteps, type Steps } from '../../text/steps.ts'
import { mustBeObject } from '../check.ts'
import { agesOf } from './ages.ts'
import { type CellHistory, sendsGiven, silenceOf } from './cell-history.ts'
import type { Remaining } from './cell-left.ts'
import { inTheCold } from './cold.ts'
import { COLD_WEIGHTS } from './cold-weights.ts'
import { checkCell, checkLife } from './forecast.ts'
import { learnSteps, newCell, type Probe } from './learn.ts'
import { COUNTED_FROM_NEW, type Datum } from './lifetime.ts'
import { lifeKey } from './likelihood.ts'
import { measured } from './measured.ts'
import { type Chance, mixed } from './mixed.ts'
import { type Ground, groundOf } from './posterior.ts'
import { priorOf } from './prior.ts'
import { rateOf } from './rate.ts'
import type { Predictor } from './remaining.ts'

/** The lives of one opening's cells of one kind. */
interface OpeningLives {
  readonly before: Datum[]
  present?: Datum
}

/** What lives taught, taken one way. */
export interface Learned {
  readonly predictor: Predictor
  /** Index in the posterior of each opening that had a cell of this kind, and its lives without the present one's. */
  readonly places: ReadonlyMap<string, { readonly index: number | undefined; readonly before: readonly Datum[] }>
}

/** What is known of one kind of cell in a house. */
export interface KindLearned {
  /** In the cold: for each of `COLD_WEIGHTS`, with its chance by now. Else one. */
  readonly ways: readonly Chance<Learned & { readonly weight?: number }>[]
  readonly cells: number
  readonly deaths: number
  readonly countKnown: boolean
}

/** By kind. */
export type HouseLearned = ReadonlyMap<string, KindLearned>

interface Kind {
  readonly places: Map<string, OpeningLives>
  cells: number
  deaths: number
  /** Said by the present cells of the kind. */
  countKnown: boolean
  /** Model of the first cell met. */
  readonly modelMedian: number
  /** The present cell that has gone furthest against its model: the lattice must serve it too. */
  furthest?: { readonly mark: string; readonly datum: Datum; readonly share: number }
}

/**
 * What the cells of a house have taught of each kind.
 * @throws RangeError when a figure is out of its range; the message names mark and figure
 */
export const learnHouse = (cells: readonly CellHistory[]): HouseLearned => allSteps(learnHouseSteps(cells))

/** As `learnHouse`, a peak or a lattice a step. */
export function* learnHouseSteps(cells: readonly CellHistory[]): Steps<HouseLearned> {
  const kinds = gathered(cells)
  const cold = new Set(cells.filter(({ byWeight }) => byWeight).map(({ kind }) => kind))
  const byWeight = cold.size > 0 ? COLD_WEIGHTS.map((_, i) => gathered(cells.map(cell => atWeight(cell, i)))) : []
  const house = new Map<string, KindLearned>()
  for (const [name, kind] of kinds) {
    const ways = cold.has(name)
      ? yield* weighed(byWeight.map(of => of.get(name)!))
      : [{ ...(yield* learnKind(groundFor(kind))), chance: 1 }]
    house.set(name, { ways, cells: kind.cells, deaths: kind.deaths, countKnown: kind.countKnown })
    yield
  }
  return house
}

/** A cell if the cold counts as one of `COLD_WEIGHTS` has it. */
export const atWeight = (cell: CellHistory, weight: number | undefined): CellHistory =>
  weight === undefined ? cell : (cell.byWeight?.[weight] ?? cell)

/** Less likely weights of the cold move no figure; those that are far less so by a rough look are not worked out. */
const NEGLIGIBLE = 1e-3
const HOPELESS = 1e-6

/** How much the cold counts, by what the cells that stood in it have given. */
function* weighed(kinds: readonly Kind[]): Steps<KindLearned['ways']> {
  const grounds: KindGround[] = []
  for (const kind of kinds) {
    grounds.push(groundFor(kind))
    yield
  }
  const roughly = chancesOf(grounds.map(({ ground }, weight) => ({ weight, evidence: ground.evidence })))
  const tried: (Learned & { weight: number })[] = []
  for (const { weight, chance } of roughly) {
    if (!(chance > HOPELESS)) continue
    tried.push({ ...(yield* learnKind(grounds[weight]!)), weight })
    yield
  }
  const likely = chancesOf(tried.map(one => ({ ...one, evidence: one.predictor.posterior.evidence })))
  const sum = likely.reduce((all, { chance }) => all + (chance > NEGLIGIBLE ? chance : 0), 0)
  return likely.filter(({ chance }) => chance > NEGLIGIBLE).map(one => ({ ...one, chance: one.chance / sum }))
}

/** Chances of weights of the cold, by their evidence and what was believed before. */
function chancesOf<T extends { readonly weight: number; readonly evidence: number }>(ways: readonly T[]): Chance<T>[] {
  const logs = ways.map(({ weight, evidence }) => Math.log(COLD_WEIGHTS[weight]!.chance) + evidence)
  const top = Math.max(...logs)
  const sum = logs.reduce((all, log) => all + Math.exp(log - top), 0)
  return ways.map((way, i) => ({ ...way, chance: Math.exp(logs[i]! - top) / sum }))
}

function gathered(cells: readonly CellHistory[]): ReadonlyMap<string, Kind> {
  const kinds = new Map<string, Kind>()
  for (const cell of cells) gather(kinds, cell)
  return kinds
}

function gather(kinds: Map<string, Kind>, cell: CellHistory): void {
  mustBeObject('a cell', cell, 'an object')
  const { mark, modelMedian } = cell
  try {
    checkCell(cell)
    for (const past of cell.past) checkLife(past)
    rateOf(cell)
  } catch (error) {
    throw error instanceof RangeError ? new RangeError(`${mark}: ${error.message}`) : error
  }
  const kindOf = (name: string): Kind => {
    const kind = kinds.get(name) ?? { places: new Map(), cells: 0, deaths: 0, countKnown: true, modelMedian }
    kinds.set(name, kind)
    return kind
  }
  const placeIn = ({ places }: Kind): OpeningLives => {
    const place = places.get(mark) ?? { before: [] }
    places.set(mark, place)
    return place
  }
  for (const { kind: name = cell.kind, modelMedian: model = modelMedian, unknownBefore, ...life } of cell.past) {
    const kind = kindOf(name)
    placeIn(kind).before.push({ life, modelMedian: model, ages: agesOf(unknownBefore, model) })
    kind.cells++
    if (!('runningAt' in life)) kind.deaths++
  }
  const kind = kindOf(cell.kind)
  kind.countKnown &&= cell.countKnown
  if (cell.ended) return
  const life = {
    runningAt: sendsGiven(cell),
    silence: silenceOf(cell),
    ...(cell.cold ? { next: cell.cold.hardest } : {}),
  }
  const datum = { life, modelMedian, ages: agesOf(cell.unknownBefore, modelMedian) }
  placeIn(kind).present = datum
  if (cell.sends > 0) kind.cells++
  const share = life.runningAt / modelMedian
  if (share > (kind.furthest?.share ?? 0)) kind.furthest = { mark, datum, share }
}

/** What a kind's posterior stands on, before it is worked out. */
interface KindGround {
  readonly ground: Ground
  readonly probes: readonly Probe[]
  readonly places: Learned['places']
}

function groundFor(kind: Kind): KindGround {
  const openings = new Map<string, { cells: Datum[]; times: number; index: number }>()
  const places = new Map<string, { index: number | undefined; before: readonly Datum[] }>()
  for (const [mark, { before, present }] of kind.places) {
    // a cell that has not sent yet tells nothing: its contact may never have worked
    const lives = present && isTelling(present) ? [...before, present] : before
    const key = lives.map(lifeKey).join()
    const found = openings.get(key)
    if (found) found.times++
    else if (lives.length) openings.set(key, { cells: lives, times: 1, index: openings.size })
    places.set(mark, { index: openings.get(key)?.index, before })
  }
  const probes: Probe[] = [newCell(kind.modelMedian)]
  if (kind.furthest) {
    const { mark, datum } = kind.furthest
    const { index, before } = places.get(mark)!
    probes.push({ opening: index, before, cell: presentOf(datum) })
  }
  return { ground: groundOf([...openings.values()], priorOf(kind.countKnown)), probes, places }
}

function* learnKind({ ground, probes, places }: KindGround): Steps<Learned> {
  return { predictor: yield* learnSteps(ground, probes), places }
}

const isTelling = ({ life }: Datum): boolean => !('runningAt' in life) || life.runningAt > 0

const presentOf = ({ life, modelMedian, ages }: Datum) => ({
  modelMedian,
  sends: 'runningAt' in life ? life.runningAt : 0,
  ages,
})

/** What one cell has left if it still runs, in sends, by what its kind has taught. */
export const cellLeft = (cell: CellHistory, { ways }: KindLearned): Remaining =>
  mixed(ways.map(way => ({ chance: way.chance, left: leftOneWay(atWeight(cell, way.weight), way) })))

/** What a new cell would give in the place of this one, in sends, fitted when the next is due. */
export const newCellLeft = (cell: CellHistory, { ways }: KindLearned): Remaining =>
  mixed(
    ways.map(way => {
      const { mark, modelMedian, cold } = atWeight(cell, way.weight)
      const { index, before } = way.places.get(mark) ?? NOWHERE
      const left = way.predictor.remaining(index, before, { modelMedian, sends: 0, ages: COUNTED_FROM_NEW })
      const course = cold && { shares: cold.shares, worn: 0, ahead: { ...cold.ahead, already: 0 } }
      return { chance: way.chance, left: course ? inTheCold(left, course) : left }
    }),
  )

const NOWHERE = { index: undefined, before: [] }

function leftOneWay(cell: CellHistory, { predictor, places }: Learned): Remaining {
  const { index, before } = places.get(cell.mark) ?? NOWHERE
  const { modelMedian, sends, cold, volts, unknownBefore } = cell
  const ages = agesOf(unknownBefore, modelMedian)
  const left = predictor.remaining(index, before, { modelMedian, sends: sendsGiven(cell), ages })
  // volts fall with the cold too: no line through them tells of the cell there
  if (cold) return inTheCold(left, cold)
  return volts ? measured(left, volts, sends, unknownBefore === undefined) : left
}
