import type { LinkState } from '../../protocol/feed.ts'
import type { KeeperNote } from '../../protocol/keeper-note.ts'
import type { CheckedClock } from '../clock.ts'
import type { Journal } from '../journal.ts'
import type { LiveUntil } from '../live-facts.ts'
import type { BrokerBefore } from '../options.ts'
import { type CaughtUp, mayHaveOverflowed } from '../publish/sentences.ts'

/** The last acknowledged beat is at most this much older than the last sign of a live link, milliseconds. */
const BEAT_SLACK = 90_000

/** What the broker is known to have of a keeper: until when its link was live, and when the keeper started. */
export interface Acknowledged {
  /** Milliseconds since the epoch. */
  readonly lastLive: number
  /** ISO 8601; the will that the broker holds says so too. */
  readonly startedIso: string
}

/**
 * A broker that came back from an older store shows an older state of the keeper than the last that it acknowledged, or
 * none: words that it took since are lost, although it kept the session.
 * @param seen - the keeper's state as the broker keeps it
 */
export function isFromOlderStore(seen: KeeperNote | undefined, { lastLive, startedIso }: Acknowledged): boolean {
  if (!seen) return true
  const beat = Date.parse(seen.beat)
  return seen.state === 'gone' ? beat < Date.parse(startedIso) : beat < lastLive - BEAT_SLACK
}

/** By a clock that is behind nobody knows: a machine without a clock of its own starts with such a one. */
const hasMachineStarted = (clock: CheckedClock, since: number | undefined): boolean =>
  since !== undefined && (clock.wrong() !== undefined || clock.now() - clock.up() > since)

export interface LinkGapsOptions {
  readonly journal: Journal
  readonly startedIso: string
  /** When the last keeper of this store started; undefined: there was none, or it did not say. */
  readonly startedBefore: string | undefined
  /** A keeper of this store has had a session at the broker. */
  readonly hadSession: boolean
  /** The store was put together again: words that were acknowledged may not be in it. */
  readonly wasMended: boolean
  readonly liveUntil: LiveUntil
  readonly clock: CheckedClock
  readonly broker: BrokerBefore
}

/** Tells the machine when words may have gone unheard on the way from the broker to this keeper. */
export class LinkGaps {
  readonly #o: LinkGapsOptions
  #started: string | undefined
  #isTaken = false
  /** The broker itself was down since the last link: contacts could not speak, and nothing of theirs waits in a session. */
  #wasBrokerDown: boolean
  #wasMended: boolean
  #hadSession: boolean
  #isUp = false
  #session: { readonly present: boolean; readonly lastLive: number | undefined; readonly wasTaken: boolean } | undefined
  #seen: KeeperNote | undefined

  constructor(options: LinkGapsOptions) {
    this.#o = options
    this.#started = options.startedBefore
    this.#hadSession = options.hadSession
    this.#wasMended = options.wasMended
    const { broker, clock, liveUntil } = options
    this.#wasBrokerDown = broker.wasDown || (broker.isHere && hasMachineStarted(clock, liveUntil.at))
  }

  lost(state: LinkState): void {
    if (state.state === 'down') {
      this.#isTaken ||= state.taken === true
      this.#wasBrokerDown ||= state.nobodyListens === true
    }
    if (this.#isUp) this.#o.journal.nextLink()
    this.#isUp = false
  }

  /**
   * A link is up.
   * @param present - the broker kept the session
   * @returns true where that session cannot be this keeper's: it has never had one
   */
  began(present: boolean): boolean {
    const lastLive = this.#o.liveUntil.at
    this.#isUp = true
    this.#session = { present, lastLive, wasTaken: this.#isTaken }
    this.#seen = undefined
    const { journal } = this.#o
    const isForeign = present && !this.#hadSession
    this.#hadSession = true
    journal.remember('session', 'begun')
    if (!present) journal.forgetSession(lastLive)
    // Another client had the session, and what waited in it.
    else if (this.#isTaken || isForeign || this.#wasMended) journal.play({ kind: 'missed', heardUntil: lastLive })
    else {
      const from = lastLive === undefined ? {} : { from: lastLive }
      journal.play({ kind: 'missed', queued: !this.#wasBrokerDown, ...from })
    }
    if (this.#wasMended) journal.remember('mended', '')
    this.#isTaken = false
    this.#wasBrokerDown = false
    this.#wasMended = false
    return isForeign
  }

  /** Another client had taken the session before this link. */
  get wasTaken(): boolean {
    return this.#session?.wasTaken === true
  }

  /** The keeper's own state as the broker keeps it. */
  stateSeen(note: KeeperNote | undefined): void {
    this.#seen = note
  }

  /** @param isEmptied - somebody else had what waited in the session */
  caughtUp(session: CaughtUp, isEmptied: boolean): void {
    if (!isEmptied && !mayHaveOverflowed(session)) return
    this.#o.journal.play({ kind: 'missed', heardUntil: this.#session?.lastLive })
  }

  /** What the broker keeps has been seen. @returns true where it is older than what the broker had acknowledged */
  settled(): boolean {
    const { journal, startedIso } = this.#o
    const startedBefore = this.#started
    this.#started = startedIso
    journal.remember('started', startedIso)
    const { present, lastLive } = this.#session ?? { present: false, lastLive: undefined }
    if (!present || lastLive === undefined || startedBefore === undefined) return false
    if (!isFromOlderStore(this.#seen, { lastLive, startedIso: startedBefore })) return false
    journal.play({ kind: 'missed', heardUntil: lastLive - BEAT_SLACK })
    return true
  }
}
