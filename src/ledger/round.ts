import type { Entry } from '../protocol/entry.ts'
import { own } from '../text/own.ts'

/** A walk round the house as a pure plan: the terminal and the wall share it. */
export interface Stop {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly at?: { readonly side: string; readonly floor: number; readonly along?: number }
  readonly power: 'cell' | 'mains'
}

export interface Step extends Stop {
  /** Sends that a test of this opening costs its cell. */
  readonly cost: number
  /** ISO 8601: when the opening was heard live on this walk. */
  readonly heardAt?: string
  /** Id of the entry by which somebody said that it was opened and no word came. */
  readonly failed?: string
  /** ISO 8601: when a natural opening since the last walk proved the contact, which may then be left out. */
  readonly naturalAt?: string
  readonly leftOut: boolean
}

/** A walk under way: its plan, and what was heard of which opening. */
export interface Round {
  readonly startedAt: string
  readonly steps: readonly Step[]
}

/** What a walk is planned from. */
export interface RoundPlan {
  readonly stops: readonly Stop[]
  /** Order of the sides. */
  readonly sides: readonly string[]
  /** ISO 8601 now. */
  readonly startedAt: string
  /** ISO 8601 end of the last walk; natural openings count from here. */
  readonly lastRoundAt?: string
  /** When each contact last proved itself. */
  readonly provenAt: Readonly<Record<string, string | undefined>>
  /** Contacts that are more likely dead than not: they come first, so that a walk that ends early has tested them. */
  readonly overdue: ReadonlySet<string>
  /** Leave out what opened by itself since the last walk. */
  readonly leaveOutNatural: boolean
}

/**
 * Stops in walking order: what is overdue, then the others; each floor by floor, round the house by its sides, along
 * the side. Stops without a place come last, as they stand.
 */
export function planRound(plan: RoundPlan): Round {
  const since = plan.lastRoundAt === undefined ? undefined : Date.parse(plan.lastRoundAt)
  const floor = ({ at }: Stop): number => (at && plan.sides.includes(at.side) ? at.floor : Number.MAX_VALUE)
  const along = alongSides(plan.sides)
  const first = ({ mark }: Stop): number => (plan.overdue.has(mark) ? 0 : 1)
  const steps = plan.stops
    .map((stop, index) => ({ stop, index }))
    .sort(
      (a, b) =>
        first(a.stop) - first(b.stop) || floor(a.stop) - floor(b.stop) || along(a.stop, b.stop) || a.index - b.index,
    )
    .map(({ stop }): Step => {
      const proven = own(plan.provenAt, stop.mark)
      const natural = since !== undefined && proven !== undefined && Date.parse(proven) > since ? proven : undefined
      return {
        ...stop,
        cost: stop.power === 'cell' ? 1 : 0,
        ...(natural === undefined ? {} : { naturalAt: natural }),
        leftOut: natural !== undefined && plan.leaveOutNatural,
      }
    })
  return { startedAt: plan.startedAt, steps }
}

/** The order of stops on one floor: round the house by its sides, along each. */
export const alongSides =
  (sides: readonly string[]) =>
  (a: Pick<Stop, 'at'>, b: Pick<Stop, 'at'>): number =>
    sides.indexOf(a.at?.side ?? '') - sides.indexOf(b.at?.side ?? '') || (a.at?.along ?? 0) - (b.at?.along ?? 0)

/** Sends that the rest of the walk costs all cells together. */
export const roundCost = (round: Round): number =>
  round.steps.reduce((sum, step) => sum + (step.leftOut || step.heardAt !== undefined ? 0 : step.cost), 0)

/**
 * Ticks the opening that was heard: only a live word counts, a kept copy proves nothing. What somebody opened without a
 * word is marked, until that is taken back.
 */
export function tickRound(round: Round, entry: Entry): Round {
  if (entry.what === 'failed') return mark(round, entry.mark, entry.id)
  if (entry.what === 'undone') {
    const taken = round.steps.find(({ failed }) => failed !== undefined && failed === entry.undoes)
    return taken ? mark(round, taken.mark, undefined) : round
  }
  if (entry.how !== 'live' || (entry.what !== 'opened' && entry.what !== 'closed')) return round
  const step = round.steps.find(({ mark }) => mark === entry.mark)
  if (!step || step.heardAt !== undefined) return round
  return { ...round, steps: round.steps.map(each => (each === step ? { ...step, heardAt: entry.at } : each)) }
}

/** Somebody walks past it: it stays unproved. */
export const leaveOut = (round: Round, mark: string): Round => ({
  ...round,
  steps: round.steps.map(step => (step.mark === mark ? { ...step, leftOut: true } : step)),
})

function mark(round: Round, whose: string, failed: string | undefined): Round {
  const steps = round.steps.map((step): Step => {
    if (step.mark !== whose) return step
    const { failed: _, ...rest } = step
    return failed === undefined ? rest : { ...rest, failed }
  })
  return { ...round, steps }
}

/** The next opening to walk to. */
export const nextStep = (round: Round): Step | undefined => round.steps.find(isAhead)

const isAhead = ({ heardAt, failed, leftOut }: Step): boolean => heardAt === undefined && !failed && !leftOut

/** How far the walk has come, as an index. A silent contact on mains does not hide the next one on a cell. */
export const reachedOf = ({ steps }: Round): number =>
  Math.max(
    steps.findIndex(step => isAhead(step) && step.power === 'cell'),
    steps.findLastIndex(step => step.heardAt !== undefined || step.failed !== undefined),
  )

/** A walk at its end: what was heard, left out and missing. */
export interface RoundReport {
  readonly heard: readonly Step[]
  readonly leftOut: readonly Step[]
  /** Not heard, whatever the reason. */
  readonly missing: readonly Step[]
  /** Of `missing`, those that somebody opened without a word. */
  readonly failed: readonly Step[]
  /** Of `missing`, those after the last that was heard or failed: the walk may have ended before them. */
  readonly notReached: readonly Step[]
  /** Every opening that was not left out was heard. */
  readonly done: boolean
}

/** What the walk came to: heard, missing and skipped openings. */
export function reportRound(round: Round): RoundReport {
  const heard = round.steps.filter(step => step.heardAt !== undefined)
  const leftOut = round.steps.filter(step => step.heardAt === undefined && step.leftOut)
  const missing = round.steps.filter(step => step.heardAt === undefined && !step.leftOut)
  const failed = missing.filter(step => step.failed !== undefined)
  const last = round.steps.findLastIndex(step => step.heardAt !== undefined || step.failed !== undefined)
  const notReached = missing.filter(step => round.steps.indexOf(step) > last)
  return { heard, leftOut, missing, failed, notReached, done: missing.length === 0 }
}

export const ROUND_TEXTS = ['heard', 'natural', 'unheard', 'missing'] as const
type RoundText = (typeof ROUND_TEXTS)[number]

/**
 * What the walk leaves in the tally: a `round` entry for each opening, with the text `heard`, `natural`, `unheard` or
 * `missing`. The opening at which the walk stood when it ended is unheard: somebody may have opened it. What lies behind
 * that is missing; walks of earlier versions said so of what they passed by as well, and nobody can tell the two apart.
 * @param idOf - gives each entry its id
 */
export function roundEntries(round: Round, at: string, idOf: (mark: string) => string): readonly Entry[] {
  const { heard, failed, leftOut, notReached } = reportRound(round)
  const stoodAt = heard.length + failed.length > 0 ? nextStep(round) : undefined
  const isTried = (step: Step): boolean => step === stoodAt || !notReached.includes(step)
  const textOf = (step: Step): RoundText => {
    if (heard.includes(step)) return 'heard'
    if (leftOut.includes(step)) return step.naturalAt ? 'natural' : 'unheard'
    return isTried(step) ? 'unheard' : 'missing'
  }
  return round.steps.map(step => ({
    id: idOf(step.mark),
    at,
    mark: step.mark,
    what: 'round',
    how: 'live',
    text: textOf(step),
  }))
}
