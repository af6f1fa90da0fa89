import type { Figures, KeeperNote, KeeperProblemCode } from '../../protocol/keeper-note.ts'
import { HOUR, iso } from '../../text/time.ts'
import type { Clock } from '../clock.ts'
import type { Health } from './verdict.ts'

/** Longest problem text that a reader takes. */
const LONGEST = 400

interface Notice {
  readonly text: string
  readonly untilMonotonic: number
  readonly figures: Figures
}

/**
 * What the keeper says of itself: live, or broken while the disk refuses, and what a person should know. A notice may
 * end by itself.
 */
export class Status {
  readonly #clock: Clock
  readonly #notices = new Map<KeeperProblemCode, Notice>()
  readonly #mine: Set<string>
  #trouble: string | undefined
  #since: string
  #taken: { readonly at: number; readonly monotonic: number } | undefined

  constructor(clock: Clock, startedIso: string) {
    this.#clock = clock
    this.#since = startedIso
    this.#mine = new Set([startedIso])
  }

  /** The disk refuses (or, undefined, takes entries again). */
  trouble(problem: string | undefined): boolean {
    const changed = (this.#trouble === undefined) !== (problem === undefined)
    this.#trouble = problem
    if (changed) this.begin()
    return changed
  }

  /** A new state begins now: also when the link is made anew, since words may have been missed before. */
  begin(): void {
    this.#since = iso(this.#clock.now())
    this.#mine.add(this.#since)
  }

  /** True for a state that this keeper published itself. */
  isMine(since: string): boolean {
    return this.#mine.has(since)
  }

  /** What stood at the broker before the first start was left there by a keeper that is dead. */
  disown(since: string): void {
    this.#mine.add(since)
  }

  /** The broker has taken the state. */
  published(): void {
    this.#taken = { at: this.#clock.now(), monotonic: this.#clock.monotonic() }
  }

  get health(): Pick<Health, 'isKeeping' | 'hasProblem' | 'beat'> {
    const { state, problem } = this.note()
    const taken = this.#taken
    return {
      isKeeping: state === 'live',
      hasProblem: problem !== undefined,
      ...(taken ? { beat: { at: taken.at, ageMilliseconds: this.#clock.monotonic() - taken.monotonic } } : {}),
    }
  }

  /** @returns false when the same stands there already */
  notice(
    name: KeeperProblemCode,
    text: string | undefined,
    hours = Number.POSITIVE_INFINITY,
    figures: Figures = {},
  ): boolean {
    const isNew = this.#notices.get(name)?.text !== text
    if (text === undefined) this.#notices.delete(name)
    else this.#notices.set(name, { text, untilMonotonic: this.#clock.monotonic() + hours * HOUR, figures })
    return isNew
  }

  note(state?: 'gone' | 'broken'): KeeperNote {
    for (const [name, { untilMonotonic }] of this.#notices) {
      if (this.#clock.monotonic() >= untilMonotonic) this.#notices.delete(name)
    }
    // That the register before holds is said of a keeper at work.
    if (state === 'gone') this.#notices.delete('register')
    const texts = [this.#trouble, ...[...this.#notices.values()].map(({ text }) => text)].filter(Boolean)
    const problem = texts.join('; ').slice(0, LONGEST)
    const refused = this.#trouble === undefined ? [] : [{ code: 'not-kept' } as const]
    const problems = [...refused, ...[...this.#notices].map(([code, { figures }]) => ({ code, ...figures }))]
    return {
      v: 1,
      state: state ?? (this.#trouble === undefined ? 'live' : 'broken'),
      beat: iso(this.#clock.now()),
      since: this.#since,
      ...(problem === '' ? {} : { problem, problems }),
    }
  }
}
