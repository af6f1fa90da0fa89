import type { Arrival } from '../../house/state.ts'
import { echoText, parseEcho } from '../../protocol/echo.ts'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import { type TallyTopics, tallyPlace } from '../../protocol/topics.ts'
import { iso } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { CheckedClock } from '../clock.ts'
import type { LiveUntil } from '../live-facts.ts'
import type { CaughtUp } from '../publish/sentences.ts'
import { SILENT_MILLISECONDS } from './challenge.ts'
import { Marker } from './marker.ts'
import { Standstill } from './standstill.ts'

export interface LinkHooks {
  /** The link is down, or not up yet. */
  lost(state: LinkState): void
  /** The broker refuses the account, or to let it read something. */
  refused(state: LinkState & { readonly state: 'refused' }): void
  /** A link is up; what had waited comes before `caughtUp`. */
  began(sessionPresent: boolean): void
  /** The link has been up for a while and no marker came back. */
  silent(): void
  /** The marker came back: everything from here on is live. */
  caughtUp(session: CaughtUp): void
  /** A second marker came back: what was unsubscribed before it is so. Only now is anything published. */
  settled(): void
}

/** One link from its beginning to its end. */
interface Epoch {
  readonly sessionPresent: boolean
  /** Monotonic time since when there was no gap. */
  readonly since: number
  caughtUp: boolean
  settled: boolean
  queued: number
}

/**
 * Tells what waited at the broker from what is live. On a link whose session the broker kept, everything before the
 * echo of the keeper's own marker may have waited: it happened after the link was last known live, and before now.
 */
export class LinkSide {
  readonly #feed: Feed
  readonly #tally: string
  readonly #keeper: string
  readonly #startedIso: string
  readonly #clock: CheckedClock
  #hooks: LinkHooks | undefined
  #epoch: Epoch | undefined
  #cancel = (): void => {}
  #cancelSilent = (): void => {}
  readonly #marker: Marker
  readonly #standstill: Standstill
  readonly #liveUntil: LiveUntil
  readonly #journal: { drained(): Promise<void> }

  constructor(given: {
    feed: Feed
    topics: TallyTopics
    tally: string
    keeper: string
    startedIso: string
    clock: CheckedClock
    liveUntil: LiveUntil
    /** Where the messages go. */
    journal: { drained(): Promise<void> }
  }) {
    this.#journal = given.journal
    this.#feed = given.feed
    this.#tally = given.tally
    this.#keeper = given.keeper
    this.#startedIso = given.startedIso
    this.#clock = given.clock
    this.#liveUntil = given.liveUntil
    const send = (marker: string): Promise<void> =>
      given.feed.publish(given.topics.echo(marker), echoText('marker', given.keeper))
    this.#marker = new Marker(given.clock, send)
    this.#standstill = new Standstill(given.clock, send)
  }

  /** @param hooks - who is told from now on */
  open(hooks: LinkHooks): void {
    this.#hooks = hooks
  }

  /** The link is up and what had waited has come. */
  get isCaughtUp(): boolean {
    return this.#epoch?.caughtUp === true
  }

  /** Words may be published. */
  get isSettled(): boolean {
    return this.#epoch?.settled === true
  }

  link(state: LinkState): void {
    if (state.state === 'live') {
      this.#cancel()
      this.#marker.stop()
      this.#epoch = {
        sessionPresent: state.sessionPresent,
        since: this.#clock.monotonic(),
        caughtUp: false,
        settled: false,
        queued: 0,
      }
      this.#cancelSilent()
      // From the marker on: where many houses begin at once it waits for its turn.
      this.#cancelSilent = this.#clock.after(0, () => {
        this.#cancelSilent = this.#clock.after(SILENT_MILLISECONDS, () => this.#hooks?.silent())
      })
      this.#hooks?.began(state.sessionPresent)
      this.#cancel = this.#clock.after(0, () => this.#marker.begin())
      return
    }
    if (state.state === 'refused') {
      // A subscription that is refused leaves the link up.
      this.#hooks?.refused(state)
      return
    }
    this.stop()
    this.#hooks?.lost(state)
  }

  /** Takes a marker's echo; answers another keeper's question. */
  echo(message: Heard): void {
    const place = tallyPlace(this.#tally, message.topic)
    const echo = parseEcho(utf8Text(message.payload, 1_000))
    if (place?.kind !== 'echo' || !echo || message.retain) return
    if (echo.kind === 'question' && echo.keeper !== this.#keeper) {
      this.#feed.publish(message.topic, echoText('answer', this.#keeper, this.#startedIso)).catch(() => {})
      return
    }
    this.#standstill.echo(place.id)
    const epoch = this.#epoch
    if (echo.kind !== 'marker' || !epoch || !this.#marker.cameBack(place.id)) return
    this.#cancelSilent()
    if (epoch.caughtUp) {
      epoch.settled = true
      this.#hooks?.settled()
      return
    }
    epoch.caughtUp = true
    this.#standstill.begin()
    const { at: since } = this.#liveUntil
    this.#liveUntil.at = this.#clock.now()
    this.#hooks?.caughtUp({
      present: epoch.sessionPresent,
      queued: epoch.queued,
      ...(since === undefined ? {} : { since: iso(since) }),
    })
    // Nothing is published, and nobody told that it is at work, before what had waited counts and is acknowledged.
    void this.#journal.drained().then(() => {
      if (this.#epoch === epoch) this.#cancel = this.#clock.after(0, () => this.#marker.begin())
    })
  }

  /** When a message that comes now happened. */
  arrival({ retain }: Heard): Arrival {
    const now = this.#clock.now()
    const epoch = this.#epoch
    const waited = (since: number): Arrival => ({
      queued: true,
      at: iso(Math.min(since, now)),
      until: iso(Math.max(since, now)),
    })
    if (epoch?.sessionPresent && !epoch.caughtUp && !retain) {
      epoch.queued++
      return waited(this.#liveUntil.at ?? now)
    }
    const since = this.#standstill.since()
    if (since !== undefined && !retain) return waited(since)
    if (epoch?.caughtUp && since === undefined) this.#liveUntil.at = now
    if (!epoch) return { at: iso(now) }
    return { at: iso(now), linkLiveSeconds: Math.round(this.#clock.monotonic() - epoch.since) / 1000 }
  }

  /** The machine's clock was set: what was live until a time before that was so until an earlier time by a clock set back. */
  clockSet(stepMilliseconds: number): void {
    const { at } = this.#liveUntil
    if (at !== undefined) this.#liveUntil.at = Math.min(at + Math.min(stepMilliseconds, 0), this.#clock.now())
  }

  /** The broker has answered: just now, where the answer did not wait in this machine. */
  touch(): void {
    if (this.isCaughtUp && this.#standstill.since() === undefined) this.#liveUntil.at = this.#clock.now()
  }

  stop(): void {
    this.#cancel()
    this.#marker.stop()
    this.#cancelSilent()
    this.#standstill.stop()
    this.#epoch = undefined
  }
}
