import { allSteps, type Steps } from '../../text/steps.ts'
import type { Present } from './cell-left.ts'
import { COUNTED_FROM_NEW, type Datum, type OpeningLives } from './lifetime.ts'
import { type Ground, groundOf, type Posterior, posteriorOf } from './posterior.ts'
import type { Prior } from './prior.ts'
import { Predictor } from './remaining.ts'

/** A cell whose figures the lattice must serve. */
export interface Probe {
  readonly opening: number | undefined
  readonly before: readonly Datum[]
  readonly cell: Present
}

/** Steps of the lattice, in standard deviations at the mode. */
const STEPS = [1.5, 1.15, 0.85, 0.6, 0.4] as const
/** Quantiles may move by no more than this between two steps; the finer one is then right to far less. */
const MOVED = 0.005

/**
 * What the lives of a kind teach, on a lattice that is made finer until the quantiles of a new cell and of the probes
 * stand still.
 */
export const learn = (openings: readonly OpeningLives[], prior: Prior, probes: readonly Probe[]): Predictor =>
  allSteps(learnSteps(groundOf(openings, prior), probes))

/** As `learn`, a lattice a step. */
export function* learnSteps(ground: Ground, probes: readonly Probe[]): Steps<Predictor> {
  let before: number[] | undefined
  let predictor: Predictor | undefined
  for (const step of STEPS) {
    predictor = new Predictor(posteriorOf(ground, step))
    const now = quantilesOf(predictor, probes)
    if (before?.every((value, i) => Math.abs(value - now[i]!) <= MOVED * now[i]!)) break
    before = now
    yield
  }
  return predictor!
}

const quantilesOf = (predictor: Predictor, probes: readonly Probe[]): number[] =>
  probes.flatMap(({ opening, before, cell }) => {
    const left = predictor.remaining(opening, before, cell)
    return [0.05, 0.5, 0.95].map(p => left.quantile(p))
  })

/** A new cell where nothing is known of the opening. */
export const newCell = (modelMedian: number): Probe => ({
  opening: undefined,
  before: [],
  cell: { modelMedian, sends: 0, ages: COUNTED_FROM_NEW },
})

export type { Posterior }
