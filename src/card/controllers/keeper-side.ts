import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Entry } from '../../protocol/entry.ts'
import type { Heard } from '../../protocol/feed.ts'
import { parseHeard } from '../../protocol/heard-note.ts'
import { type KeeperNote, parseKeeper } from '../../protocol/keeper-note.ts'
import { parseReading, type Reading } from '../../protocol/reading.ts'
import { parseRegisterNote } from '../../protocol/register-note.ts'
import type { Say } from '../../protocol/say.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import { utf8Text } from '../../text/utf8.ts'
import { type Span, spanOf } from '../select/opened-since.ts'
import type { Answer } from '../state/deeds.ts'
import { type CardHouse, houseOfNote } from '../state/house.ts'
import type { CardWorld } from '../world.ts'

/** Without a live beat for this long, by this tablet's own clock, the keeper is gone. */
export const BEAT_MILLISECONDS = 90_000
/** A say is waited for this long; the broker may hold it for a keeper that comes back. */
const ANSWER_MILLISECONDS = 10_000
/** What the broker kept of a keeper comes at once: a house where nothing came by then has none any more. */
const FORGET_MILLISECONDS = 20_000

/** Times of openings kept of each. */
const MOST_OPENINGS = 50

/** What a keeper in the house publishes: its beat, its readings, its answers. */
export class KeeperSide implements ReactiveController {
  house: CardHouse | undefined
  note: KeeperNote | undefined
  /** What was said under this id was noted after nobody waited for it any more. */
  late: (id: string) => void = () => {}
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #heard: (entry: Entry) => void
  readonly #readings = new Map<string, Reading>()
  /** When openings were heard by way of its readings on this page: a reading tells the last word alone. */
  readonly #openings = new Map<string, Span[]>()
  /** When its last live reading of each mark came, by this tablet's clock. */
  readonly #toldAt = new Map<string, number>()
  #began = 0
  readonly #asked = new Map<string, (answer: Answer) => void>()
  #tally = ''
  /** This house had a keeper when this tablet last heard it. */
  #remembered = false
  /** When the last live beat came, by the tablet's clock and by the page's, which nobody can set. */
  #beat: { readonly wall: number; readonly page: number } | undefined

  constructor(host: ReactiveControllerHost, world: () => CardWorld, heard: (entry: Entry) => void) {
    this.#host = host
    this.#world = world
    this.#heard = heard
    host.addController(this)
  }

  hostConnected(): void {
    this.#began = this.#world().now()
  }

  hostDisconnected(): void {
    for (const answer of this.#asked.values()) answer({ ok: false })
    this.#asked.clear()
    this.#beat = undefined
  }

  /** Topic prefix of the tally; empty: there can be no keeper. */
  use(tally: string): void {
    if (tally === this.#tally) return
    this.#tally = tally
    this.house = undefined
    this.note = undefined
    this.#beat = undefined
    this.#readings.clear()
    this.#openings.clear()
    this.#toldAt.clear()
    this.#remembered = recall(this.#key)
  }

  /** Something of a keeper was heard in this house, now or on an earlier day. */
  get used(): boolean {
    return this.#remembered || this.#isHeard
  }

  get #isHeard(): boolean {
    return this.note !== undefined || this.house !== undefined || this.#readings.size > 0
  }

  /** A tablet that is loaded while the link is down must know that its own tally is not the house's. */
  tick(now: number, liveSince: number | undefined): void {
    const isGone = liveSince !== undefined && Math.abs(now - liveSince) > FORGET_MILLISECONDS && !this.#isHeard
    const used = this.#isHeard || (this.#remembered && !isGone)
    if (used === this.#remembered) return
    this.#remembered = used
    try {
      if (used) localStorage.setItem(this.#key, '1')
      else localStorage.removeItem(this.#key)
    } catch {
      // Without storage it is known again when the keeper is heard.
    }
  }

  get #key(): string {
    return `sashtally keeper ${this.#tally}`
  }

  get filters(): readonly string[] {
    if (!this.#tally) return []
    const { register, keeper, filters } = tallyTopics(this.#tally)
    return [register, keeper, filters.openings, filters.answers]
  }

  /** What the broker lets nobody read here of the readings may have changed unheard. */
  isDeaf(deafTo: readonly string[] = []): boolean {
    return deafTo.includes(tallyTopics(this.#tally).filters.openings)
  }

  /** When it last said anything, by its own clock: the newest of its beat and its readings, kept copies too. */
  get saidAt(): number | undefined {
    const times = [this.note?.beat, ...[...this.#readings.values()].map(({ asOf }) => asOf)]
    const newest = Math.max(...times.map(time => (time === undefined ? Number.NEGATIVE_INFINITY : Date.parse(time))))
    return Number.isFinite(newest) ? newest : undefined
  }

  get beatAt(): number | undefined {
    return this.#beat?.wall
  }

  /** A live beat came within 90 s, and the keeper does not say of itself that it is gone. */
  get fresh(): boolean {
    const beat = this.#beat
    if (!beat || this.note?.state !== 'live') return false
    return Math.max(Math.abs(this.#world().now() - beat.wall), this.#world().elapsed() - beat.page) < BEAT_MILLISECONDS
  }

  get readings(): ReadonlyMap<string, Reading> {
    return this.#readings
  }

  /** A link that broke may have missed the keeper's end: only a beat after it counts. */
  linkLost(): void {
    this.#beat = undefined
  }

  /** @returns true when the message was one of the tally's own */
  hear(message: Heard): boolean {
    const place = this.#tally ? tallyPlace(this.#tally, message.topic) : undefined
    if (!place) return false
    const text = utf8Text(message.payload)
    switch (place.kind) {
      case 'register': {
        const note = parseRegisterNote(text)
        if (note) this.house = houseOfNote(note)
        break
      }
      case 'keeper': {
        const note = parseKeeper(text)
        if (note) this.note = note
        if (note && !message.retain) {
          this.#beat = note.state === 'live' ? { wall: this.#world().now(), page: this.#world().elapsed() } : undefined
        }
        break
      }
      case 'opening': {
        const reading = parseReading(text)
        if (reading?.mark === place.mark) this.#take(reading, !message.retain)
        else if (text === '') this.#readings.delete(place.mark)
        break
      }
      case 'heard': {
        const answer = parseHeard(text)
        const waiting = message.retain ? undefined : this.#asked.get(place.id)
        if (answer) waiting?.(answer)
        break
      }
      default:
        return true
    }
    this.#host.requestUpdate()
    return true
  }

  /** Up to when it has told of a mark, by this tablet's clock; a copy that the broker kept tells nothing of this page's time. */
  toldAt(mark: string): number {
    const asOf = this.#readings.get(mark)?.asOf
    const before = asOf === undefined ? Number.NEGATIVE_INFINITY : Math.min(Date.parse(asOf), this.#began)
    return this.#toldAt.get(mark) ?? before
  }

  openings(mark: string): readonly Span[] {
    return this.#openings.get(mark) ?? []
  }

  /** A reading whose last word is new and live tells of that word. */
  #take(reading: Reading, isLive: boolean): void {
    const { mark, last } = reading
    const known = this.#readings.get(mark)
    const before = known?.last
    this.#readings.set(mark, reading)
    if (isLive) this.#toldAt.set(mark, this.#world().now())
    const more = known && last ? Math.min(MOST_OPENINGS, reading.openings - known.openings) : 0
    if (more > 0) {
      // A live word by this tablet's clock, as it hears the contact's own.
      const now = this.#world().now()
      const span: Span = isLive && last!.how === 'live' ? [now, now] : spanOf(last!.at, last!.until)
      const spans = [...this.openings(mark), ...new Array<Span>(more).fill(span)]
      this.#openings.set(mark, spans.slice(-MOST_OPENINGS))
    }
    if (!isLive || !this.fresh || last?.how !== 'live' || (before?.at === last.at && before.word === last.word)) return
    this.#heard({ id: `${mark} ${last.at}`, at: last.at, mark, what: last.word, how: 'live' })
  }

  /** Says something of one opening and waits for the keeper's answer. */
  async say(mark: string, say: Say, publish: (topic: string, payload: string) => Promise<void>): Promise<Answer> {
    const { id } = say
    const answered = new Promise<Answer>(done => {
      const timer = setTimeout(() => {
        this.#asked.set(id, ({ ok }) => {
          this.#asked.delete(id)
          if (ok) this.late(id)
        })
        done({ ok: false })
      }, ANSWER_MILLISECONDS)
      this.#asked.set(id, answer => {
        clearTimeout(timer)
        this.#asked.delete(id)
        done(answer)
      })
    })
    try {
      await Promise.race([publish(tallyTopics(this.#tally).say(mark), JSON.stringify(say)), answered])
    } catch {
      this.#asked.get(id)?.({ ok: false })
    }
    return answered
  }
}

function recall(key: string): boolean {
  try {
    return localStorage.getItem(key) !== null
  } catch {
    return false
  }
}
