/** An evening at Ropewalk Studios, and a world for the card that tests drive: clock, feed and store are scripted. */
import type { CardWorld } from '../../src/card/world.ts'
import { applyAll, type Ledger, startLedger } from '../../src/ledger/apply.ts'
import type { Store } from '../../src/ledger/store.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Feed, Heard, LinkState } from '../../src/protocol/feed.ts'

const DAY = 86_400_000
/** Wed 25 November 2026, 21:47 in Lisbon (UTC in winter). */
export const EVENING = Date.parse('2026-11-25T21:47:00Z')

/** The same numbers every time: mulberry32. */
function dice(seed: number): () => number {
  let state = seed
  return () => {
    state = (state + 0x6d2b79f5) | 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296
  }
}

const iso = (at: number): string => new Date(at).toISOString()

/** Mark, days since the first opening, openings since, hours since the last opening. */
const LIVES: readonly (readonly [string, number, number, number])[] = [
  ['W01', 260, 11, 30],
  ['W02', 88, 9, 0],
  ['W03', 70, 6, 52],
  ['W04', 340, 8, 700],
  ['W05', 300, 13, 90],
  ['W06', 300, 15, 28],
  ['W07', 140, 12, 55],
  ['W08', 190, 16, 27],
  ['W09', 400, 6, 212 * 24],
  ['W10', 220, 21, 120],
  ['W11', 128, 18, 0],
  ['W12', 270, 10, 200],
  ['W13', 110, 7, 75],
  ['W14', 180, 14, 26],
  ['W15', 40, 9, 25],
  ['W16', 220, 12, 300],
  ['D03', 320, 4, 900],
  ['W17', 250, 12, 33],
  ['W18', 170, 17, 26],
  ['W19', 340, 6, 1100],
  ['W20', 230, 13, 49],
  ['W21', 85, 4, 0],
  ['W22', 140, 8, 101],
]

/** What the house heard from autumn 2025 to that evening. */
export function eveningEntries(): readonly Entry[] {
  const roll = dice(7)
  const entries: Entry[] = []
  let n = 0
  const add = (mark: string, at: number, what: Entry['what'], more: Partial<Entry> = {}) =>
    entries.push({ id: `e${n++}`, at: iso(at), mark, what, how: 'live', ...more })
  const openAndRest = (mark: string, at: number) => {
    add(mark, at, 'opened')
    add(mark, at + 6_400, 'rest', { linkLiveSeconds: 90_000 })
  }
  for (const [mark, days, openings, hours] of LIVES) {
    const [from, to] = [EVENING - days * DAY, EVENING - hours * 3_600_000]
    add(mark, from - 3_600_000, 'cell-fitted', { cell: { type: 'CR2032' } })
    const times = Array.from({ length: hours === 0 ? openings - 1 : openings }, (_, index) =>
      Math.round(from + ((to - from) * (index + (hours === 0 ? roll() * 0.9 : 1) * 0.999)) / openings),
    )
    for (const at of times) {
      openAndRest(mark, at)
      add(mark, at + 600_000 + roll() * 3_600_000, 'seen-closed')
    }
  }
  openAndRest('W21', Date.parse('2026-11-23T09:10:00Z'))
  openAndRest('W11', Date.parse('2026-11-25T11:31:00Z'))
  openAndRest('W02', Date.parse('2026-11-25T21:46:10Z'))
  for (const [mark, at] of [
    ['D01', '2026-11-25T21:44:00Z'],
    ['D02', '2026-11-25T20:15:00Z'],
  ] as const) {
    for (let back = 40; back > 0; back--) {
      const opened = Date.parse(at) - back * 3_600_000 * (1 + roll())
      add(mark, opened, 'opened')
      add(mark, opened + 20_000 + roll() * 60_000, 'closed')
    }
    add(mark, Date.parse(at), 'opened')
  }
  return entries.sort((a, b) => (a.at < b.at ? -1 : 1))
}

/** Keeps what it is given; `ledger` may be seeded. */
export class MemoryStore implements Store<Ledger> {
  readonly entries: Entry[]
  ledger: Ledger | undefined
  constructor(entries: readonly Entry[] = []) {
    this.entries = [...entries]
    if (entries.length > 0) this.ledger = applyAll(startLedger({}, entries[0]!.at), entries)
  }
  async load() {
    return this.ledger
  }
  async commit(entries: readonly Entry[], ledger: Ledger) {
    this.entries.push(...entries)
    this.ledger = ledger
  }
  async all() {
    return this.entries
  }
  async since() {
    return this.ledger?.since
  }
  async close() {}
}

/** A feed whose words and states a test speaks. */
export class ScriptedFeed implements Feed {
  filters: readonly string[] = []
  readonly published: { topic: string; payload: string }[] = []
  closed = false
  #listener: Parameters<Feed['open']>[0] | undefined
  open(listener: Parameters<Feed['open']>[0]) {
    this.#listener = listener
  }
  listen(filters: readonly string[]) {
    this.filters = filters
  }
  async publish(topic: string, payload: string | Uint8Array) {
    this.published.push({ topic, payload: typeof payload === 'string' ? payload : new TextDecoder().decode(payload) })
  }
  async close() {
    this.closed = true
  }
  link(state: LinkState) {
    this.#listener?.link(state)
  }
  hear(topic: string, payload: string, more: Partial<Heard> = {}) {
    const message = { topic, payload: new TextEncoder().encode(payload), retain: false, dup: false, qos: 1 as const }
    void this.#listener?.heard({ ...message, ...more })
  }
}

/** The world of a card under test. */
export class Stage {
  readonly feeds: ScriptedFeed[] = []
  readonly asked: { url: string; user: string | undefined }[] = []
  readonly memory: MemoryStore
  now: number
  /** By how much the tablet's clock was set, beyond the time that passed. */
  set = 0
  readonly world: CardWorld

  constructor(entries: readonly Entry[] = [], now = EVENING) {
    this.memory = new MemoryStore(entries)
    this.now = now
    this.world = {
      feed: (url, account) => {
        const feed = new ScriptedFeed()
        this.feeds.push(feed)
        this.asked.push({ url, user: account?.user })
        return feed
      },
      store: () => this.memory,
      now: () => this.now,
      elapsed: () => this.now - this.set,
    }
  }

  /** The feed that was opened last. */
  get feed(): ScriptedFeed {
    return this.feeds.at(-1)!
  }

  live(): void {
    this.feed.link({ state: 'live', since: this.now, sessionPresent: false })
  }
}
