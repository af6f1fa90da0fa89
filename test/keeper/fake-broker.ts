import { type Clock, elapsedOf } from '../../src/keeper/clock.ts'
import { TICK_MILLISECONDS } from '../../src/keeper/ticks.ts'
import type { Feed, Heard, LinkState } from '../../src/protocol/feed.ts'

/** A clock that stands still until it is moved. */
export class TestClock implements Clock {
  /** Stands still while the machine sleeps, as its timers do. */
  #awake = 0
  #slept = 0
  #offset: number
  #timers: { at: number; work: () => void }[] = []
  #ticks: { at: number; work: () => void }[] = []

  constructor(start: string) {
    this.#offset = Date.parse(start)
    this.monotonic = elapsedOf({ now: this.now, awake: this.awake, up: this.up })
  }

  now = (): number => this.#offset + this.up()
  awake = (): number => this.#awake
  up = (): number => this.#awake + this.#slept
  readonly monotonic: () => number

  after = (milliseconds: number, work: () => void): (() => void) => {
    const timer = { at: this.#awake + milliseconds, work }
    this.#timers.push(timer)
    return () => {
      this.#timers = this.#timers.filter(each => each !== timer)
    }
  }

  tick = (work: () => void): (() => void) => {
    const tick = { at: this.#awake + TICK_MILLISECONDS, work }
    this.#ticks.push(tick)
    return () => {
      this.#ticks = this.#ticks.filter(each => each !== tick)
    }
  }

  /** The process that had set them is dead. */
  dropTimers(): void {
    this.#timers = []
    this.#ticks = []
  }

  /** Somebody sets the machine's clock. */
  set(byMilliseconds: number): void {
    this.#offset += byMilliseconds
  }

  /** The process is stopped for a while: it goes on with what came, and its timers come as soon as time passes. */
  stop(seconds: number): void {
    this.#awake += seconds * 1000
  }

  /** As `stop`, and all that was due comes first, at once and in order. */
  stand(seconds: number): void {
    this.stop(seconds)
    const due = this.#timers.filter(({ at }) => at <= this.#awake).sort((a, b) => a.at - b.at)
    this.#timers = this.#timers.filter(each => !due.includes(each))
    this.#tickUntil(this.#awake)
    for (const { work } of due) work()
  }

  /** Nothing is waited for that a tick causes: a day has too many of them. */
  #tickUntil(end: number): void {
    for (;;) {
      const next = this.#ticks.filter(({ at }) => at <= end).sort((a, b) => a.at - b.at)[0]
      if (!next) return
      this.#awake = Math.max(this.#awake, next.at)
      next.at = this.#awake + TICK_MILLISECONDS
      next.work()
    }
  }

  /** The machine is put to sleep for a while: its timers come as much later. */
  sleep(seconds: number): void {
    this.#slept += seconds * 1000
  }

  /** Lets time pass; timers run in their order, with the messages they cause. */
  async pass(seconds: number): Promise<void> {
    const end = this.#awake + seconds * 1000
    for (;;) {
      await settle()
      const next = this.#timers.filter(({ at }) => at <= end).sort((a, b) => a.at - b.at)[0]
      this.#tickUntil(next?.at ?? end)
      if (!next) break
      this.#timers = this.#timers.filter(each => each !== next)
      this.#awake = Math.max(this.#awake, next.at)
      next.work()
    }
    this.#awake = end
    await settle()
  }
}

/** Lets everything run that is ready to. */
export async function settle(): Promise<void> {
  for (let n = 0; n < 8; n++) await new Promise(done => setImmediate(done))
}

interface Message {
  topic: string
  payload: Uint8Array
  qos: 0 | 1
  packetId: number
  dup: boolean
}

const matches = (filter: string, topic: string): boolean => {
  const [f, t] = [filter.split('/'), topic.split('/')]
  return (
    f.every((level, n) => level === '#' || ((level === '+' || level === t[n]) && n < t.length)) &&
    (f.at(-1) === '#' || f.length === t.length)
  )
}

/** A session at the broker: what is on its way stays until it is acknowledged. */
class Session {
  filters = new Set<string>()
  out: Message[] = []
  packetId = 0
  client: FakeFeed | undefined

  /** @param isLowest - the lowest that is free, else one that was not used before */
  nextId(isLowest: boolean): number {
    if (!isLowest) return ++this.packetId
    const used = new Set(this.out.map(({ packetId }) => packetId))
    for (let id = 1; ; id++) if (!used.has(id)) return id
  }
}

/** What MQTT promises of sessions, retained messages, wills and redelivery, without a network. */
export class FakeBroker {
  readonly retained = new Map<string, Uint8Array>()
  /** Topics whose retained message was published at QoS 0: its copies come so too. */
  readonly #atMostOnce = new Set<string>()
  readonly sessions = new Map<string, Session>()
  readonly feeds: FakeFeed[] = []
  /** Everything that was published, in order. */
  readonly log: { topic: string; text: string; retain: boolean }[] = []
  isUp = true
  /**
   * Hands out the lowest packet id that is free, and a new one without DUP for what was not acknowledged on the last link,
   * as nats-server 2.9.10 does.
   */
  renumbers = false
  /** Topic filters that its access list lets nobody read. */
  readonly unreadable = new Set<string>()

  feed(clientId: string, options: { clean?: boolean; will?: { topic: string; payload: string } } = {}): FakeFeed {
    const feed = new FakeFeed(this, clientId, options.clean ?? false, options.will)
    this.feeds.push(feed)
    return feed
  }

  publish(
    topic: string,
    payload: string | Uint8Array,
    { qos = 1, retain = false }: { qos?: 0 | 1; retain?: boolean } = {},
  ): void {
    const bytes = typeof payload === 'string' ? new TextEncoder().encode(payload) : payload
    this.log.push({ topic, text: new TextDecoder().decode(bytes), retain })
    if (retain && bytes.length === 0) this.retained.delete(topic)
    else if (retain) this.retained.set(topic, bytes)
    if (retain && qos === 0) this.#atMostOnce.add(topic)
    else if (retain) this.#atMostOnce.delete(topic)
    for (const session of this.sessions.values()) {
      if (![...session.filters].some(filter => matches(filter, topic))) continue
      const message = { topic, payload: bytes, qos, packetId: session.nextId(this.renumbers), dup: false }
      if (qos === 1) session.out.push(message)
      session.client?.deliver(session, message)
    }
  }

  /** A copy of what stands retained has the QoS of its publisher, up to the 1 of the subscription. */
  retainedQos(topic: string): 0 | 1 {
    return this.#atMostOnce.has(topic) ? 0 : 1
  }

  /** Text that stands retained on a topic. */
  text(topic: string): string | undefined {
    const bytes = this.retained.get(topic)
    return bytes && new TextDecoder().decode(bytes)
  }

  json(topic: string): Record<string, unknown> | undefined {
    const text = this.text(topic)
    return text === undefined ? undefined : (JSON.parse(text) as Record<string, unknown>)
  }

  /** Cuts every link; sessions stay, or are forgotten. */
  stop({ forget = false } = {}): void {
    this.isUp = false
    for (const feed of this.feeds) feed.cut()
    if (!forget) return
    this.sessions.clear()
    this.retained.clear()
  }

  start(): void {
    this.isUp = true
    for (const feed of this.feeds) feed.join()
  }
}

export class FakeFeed implements Feed {
  readonly #broker: FakeBroker
  readonly #clean: boolean
  readonly #will: { topic: string; payload: string } | undefined
  readonly clientId: string
  #listener: Parameters<Feed['open']>[0] | undefined
  #filters: readonly string[] = []
  #session: Session | undefined
  /** Acknowledgements are lost on the way while this is true. */
  losesAcks = false
  /** Messages that were acknowledged, without the keeper's own. */
  acked = 0
  isClosed = false

  constructor(broker: FakeBroker, clientId: string, clean: boolean, will?: { topic: string; payload: string }) {
    this.#broker = broker
    this.clientId = clientId
    this.#clean = clean
    this.#will = will
  }

  open(listener: Parameters<Feed['open']>[0]): void {
    this.#listener = listener
    this.join()
  }

  join(): void {
    if (!this.#listener || this.#session || this.isClosed || !this.#broker.isUp) return
    const { sessions } = this.#broker
    const kept = this.#clean ? undefined : sessions.get(this.clientId)
    kept?.client?.cut()
    this.#session = kept ?? new Session()
    sessions.set(this.clientId, this.#session)
    this.#session.client = this
    this.#say({ state: 'live', since: 0, sessionPresent: kept !== undefined })
    const waiting = [...this.#session.out]
    if (this.#broker.renumbers) {
      this.#session.out = []
      for (const message of waiting) {
        Object.assign(message, { packetId: this.#session.nextId(true), dup: false })
        this.#session.out.push(message)
      }
    }
    for (const message of waiting) {
      this.deliver(this.#session, message)
    }
    this.#subscribe(this.#filters)
  }

  /** The network breaks: the broker publishes the will. @param taken - another client came with the same id */
  cut({ taken }: { taken?: true } = {}): void {
    const session = this.#session
    if (!session) return
    this.#session = undefined
    session.client = undefined
    if (this.#clean) this.#broker.sessions.delete(this.clientId)
    if (this.#will) this.#broker.publish(this.#will.topic, this.#will.payload, { retain: true })
    this.#say({ state: 'down', since: 0, ...(taken ? { taken } : {}) })
  }

  /** The process ends without a word; the broker finds out. */
  kill(): void {
    this.#listener = undefined
    this.cut()
    this.isClosed = true
  }

  /** Dials while no program has the broker's port. */
  dialInVain(): void {
    if (!this.#session) this.#say({ state: 'down', since: 0, nobodyListens: true })
  }

  refuse(why: string): void {
    this.#say({ state: 'refused', since: 0, why })
  }

  deliver(session: Session, message: Message): void {
    const { dup } = message
    const heard: Heard = {
      topic: message.topic,
      payload: message.payload,
      retain: false,
      dup,
      qos: message.qos,
      ...(message.qos ? { packetId: message.packetId } : {}),
    }
    message.dup = true
    this.#hand(heard, () => {
      if (this.losesAcks || this.#session !== session) return
      if (!/\/tally\/(?!say)/.test(message.topic)) this.acked++
      session.out = session.out.filter(each => each !== message)
    })
  }

  #hand(heard: Heard, ack: () => void): void {
    const kept = this.#listener?.heard(heard)
    if (kept) kept.then(ack, () => {})
    else if (this.#listener) ack()
  }

  #subscribe(filters: readonly string[]): void {
    const session = this.#session
    if (!session) return
    const refused = filters.filter(filter => this.#broker.unreadable.has(filter))
    for (const filter of filters) {
      if (refused.includes(filter)) {
        session.filters.delete(filter)
        continue
      }
      session.filters.add(filter)
      for (const [topic, payload] of this.#broker.retained) {
        if (!matches(filter, topic)) continue
        const qos = this.#broker.retainedQos(topic)
        const packet = qos === 0 ? {} : { packetId: session.nextId(this.#broker.renumbers) }
        this.#hand({ topic, payload, retain: true, dup: false, qos, ...packet }, () => {})
      }
    }
    if (refused.length > 0) this.#say({ state: 'refused', since: 0, why: 'it may not be read', filters: refused })
  }

  listen(filters: readonly string[]): void {
    const fresh = filters.filter(filter => !this.#filters.includes(filter))
    const gone = this.#filters.filter(filter => !filters.includes(filter))
    this.#filters = filters
    if (!this.#session) return
    for (const filter of gone) this.#session.filters.delete(filter)
    this.#subscribe(fresh)
  }

  async publish(
    topic: string,
    payload: string | Uint8Array,
    options: { qos?: 0 | 1; retain?: boolean } = {},
  ): Promise<void> {
    await Promise.resolve()
    if (!this.#session) throw new Error('the link to the broker is down')
    this.#broker.publish(topic, payload, options)
  }

  async close(): Promise<void> {
    this.isClosed = true
    if (this.#session) {
      this.#session.client = undefined
      if (this.#clean) this.#broker.sessions.delete(this.clientId)
    }
    this.#session = undefined
  }

  #say(state: LinkState): void {
    this.#listener?.link(state)
  }
}
