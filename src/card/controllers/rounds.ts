import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { planRound, type Round, type RoundReport, reportRound, roundEntries, tickRound } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import { HOUR } from '../../text/time.ts'
import { freshId } from '../effects/frame.ts'
import type { CardHouse } from '../state/house.ts'
import type { Row } from '../state/row.ts'

/** What was begun longer ago was left, not walked. */
const LONGEST_WALK_MILLISECONDS = 12 * HOUR

export interface KeptRound {
  readonly at: string
  readonly heard: readonly string[]
  readonly leftOut: readonly string[]
  readonly missing: readonly string[]
  /** Of these, what somebody opened without a word. */
  readonly failed?: readonly string[]
}

/** The walk round the house: planned, walked, reported. It survives a reload; its report stays on this tablet. */
export class Rounds implements ReactiveController {
  round: Round | undefined
  leaveOutNatural = true
  #key = ''
  #last: KeptRound | undefined
  /** The walk of which `last` is the report, on this page. */
  #ended: Round | undefined
  readonly #host: ReactiveControllerHost

  constructor(host: ReactiveControllerHost) {
    this.#host = host
    host.addController(this)
  }

  hostConnected(): void {}

  /** @returns true when a walk goes on that was under way before the page was loaded anew */
  use(tally: string, openings: CardHouse['openings'], now: number): boolean {
    const key = `sashtally round ${tally}`
    if (key === this.#key) return false
    this.#key = key
    this.#ended = undefined
    this.#last = readKept(key)
    const marks = new Set(openings.map(({ mark }) => mark))
    const walk = readWalk(key, marks)
    this.round = walk && Math.abs(now - Date.parse(walk.startedAt)) < LONGEST_WALK_MILLISECONDS ? walk : undefined
    return this.round !== undefined
  }

  get last(): KeptRound | undefined {
    return this.#last
  }

  /** The walk as it would be now. */
  plan(house: CardHouse, rows: readonly Row[], startedAt: string): Round {
    return planRound({
      stops: house.openings,
      sides: house.sides,
      startedAt,
      ...(this.#last ? { lastRoundAt: this.#last.at } : {}),
      provenAt: Object.fromEntries(rows.map(({ opening, reading }) => [opening.mark, reading.provenAt])),
      leaveOutNatural: this.leaveOutNatural,
    })
  }

  start(round: Round): void {
    this.#walk(round)
  }

  /** A phone that goes into the pocket between two windows may drop the page. */
  #walk(round: Round | undefined): void {
    this.round = round
    try {
      if (round) sessionStorage.setItem(this.#key, JSON.stringify(round))
      else sessionStorage.removeItem(this.#key)
    } catch {
      // Without storage the walk lasts until the next reload.
    }
    this.#host.requestUpdate()
  }

  /** Ticks the opening that was heard live. */
  heard(entry: Entry): void {
    const walk = this.round ?? this.#ended
    const next = walk && tickRound(walk, entry)
    if (!next || next === walk) return
    if (this.round) this.#walk(next)
    // What was taken back does not stand in the report either.
    else if (this.#last && entry.what === 'undone') this.#report(next, this.#last.at)
  }

  choose(leaveOutNatural: boolean): void {
    this.leaveOutNatural = leaveOutNatural
    this.#host.requestUpdate()
  }

  /** Ends the walk; its report stays, and what it leaves in the tally comes back. */
  end(at: string): readonly Entry[] {
    const { round } = this
    if (!round) return []
    this.#walk(undefined)
    this.#report(round, at)
    return roundEntries(round, at, freshId)
  }

  #report(round: Round, at: string): void {
    this.#ended = round
    const { heard, leftOut, missing, failed } = reportRound(round)
    const marks = (steps: RoundReport['heard']) => steps.map(({ mark }) => mark)
    this.#last = { at, heard: marks(heard), leftOut: marks(leftOut), missing: marks(missing), failed: marks(failed) }
    try {
      localStorage.setItem(this.#key, JSON.stringify(this.#last))
    } catch {
      // Without storage the report lasts until the next reload.
    }
    this.#host.requestUpdate()
  }
}

function readWalk(key: string, marks: ReadonlySet<string>): Round | undefined {
  try {
    const walk = JSON.parse(sessionStorage.getItem(key) ?? 'null') as Round | null
    const fits = walk?.steps.every(step => marks.has(step.mark) && typeof step.name === 'string')
    return fits && typeof walk?.startedAt === 'string' ? walk : undefined
  } catch {
    return undefined
  }
}

function readKept(key: string): KeptRound | undefined {
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? 'null') as KeptRound | null
    const isList = (value: unknown) => Array.isArray(value) && value.every(each => typeof each === 'string')
    const fits =
      kept && typeof kept.at === 'string' && [kept.heard, kept.leftOut, kept.missing, kept.failed ?? []].every(isList)
    return fits && !Number.isNaN(Date.parse(kept.at)) ? kept : undefined
  } catch {
    return undefined
  }
}
