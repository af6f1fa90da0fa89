import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import type { Account, CardWorld } from '../world.ts'

/** Why there is no link at all; the sheet says it in its own words. */
export type WireFault = 'none' | 'bad' | 'mixed'
export type WireState =
  | (LinkState & {
      /** The link stands, but not everything may be heard: why. */
      readonly partial?: string
      /** The topic filters that may not. */
      readonly deafTo?: readonly string[]
    })
  | { readonly state: 'off'; readonly since: number; readonly fault: WireFault }

interface Ears {
  heard(message: Heard): void
  changed(state: WireState): void
}

/** The link to the broker: opened while the element is in the page, made anew for another address or account. */
export class Wire implements ReactiveController {
  state: WireState
  /** When the last live word came, milliseconds; undefined before the first. */
  lastWordAt: number | undefined
  /** Anything at all, kept copies too, was heard from this broker with this account. */
  hasHeard = false
  /** Since when the link has been live without a gap, milliseconds. */
  liveSince: number | undefined
  readonly #host: ReactiveControllerHost & HTMLElement
  readonly #world: () => CardWorld
  readonly #ears: Ears
  #feed: Feed | undefined
  #broker: string | undefined
  #account: Account | undefined
  #filters: readonly string[] = []

  constructor(host: ReactiveControllerHost & HTMLElement, world: () => CardWorld, ears: Ears) {
    this.#host = host
    this.#world = world
    this.#ears = ears
    this.state = { state: 'off', since: 0, fault: 'none' }
    host.addController(this)
  }

  hostConnected(): void {
    this.#open()
  }

  hostDisconnected(): void {
    this.#shut()
  }

  get broker(): string {
    return this.#broker ?? ''
  }

  /** Dials when this is another broker or another account; the same again changes nothing. */
  use(broker: string, account: Account | undefined): void {
    if (broker === this.#broker && account === this.#account) return
    this.#broker = broker
    this.#account = account
    this.hasHeard = false
    if (!this.#host.isConnected) return
    this.#shut()
    this.#open()
  }

  listen(filters: readonly string[]): void {
    if (filters.join('\n') === this.#filters.join('\n')) return
    this.#filters = filters
    this.#feed?.listen(filters)
  }

  /** Dials anew: a link that slept may look alive. */
  renew(): void {
    if (!this.#feed) return
    this.#shut()
    this.#open()
  }

  async publish(topic: string, payload: string): Promise<void> {
    if (!this.#feed) throw new Error('there is no link to the broker')
    await this.#feed.publish(topic, payload, { qos: 1 })
  }

  #open(): void {
    const broker = this.#broker
    if (this.#feed || broker === undefined) return
    const fault = faultOf(broker)
    const feed = fault ? undefined : this.#world().feed?.(broker, this.#account)
    if (!feed) {
      this.#set({ state: 'off', since: this.#world().now(), fault: fault ?? 'none' })
      return
    }
    this.#feed = feed
    feed.listen(this.#filters)
    feed.open({
      heard: message => {
        if (this.#feed !== feed) return
        this.hasHeard = true
        if (!message.retain) this.lastWordAt = this.#world().now()
        this.#ears.heard(message)
      },
      link: state => {
        if (this.#feed === feed) this.#set(this.#partly(state))
      },
    })
  }

  #shut(): void {
    void this.#feed?.close().catch(() => {})
    this.#feed = undefined
  }

  /** Refused after the link had come up: one filter was, the others are heard. */
  #partly(state: LinkState): WireState {
    const { state: before } = this
    if (state.state !== 'refused' || before.state !== 'live') return state
    return { ...before, partial: state.why, deafTo: [...(before.deafTo ?? []), ...(state.filters ?? [])] }
  }

  #set(state: WireState): void {
    if (state.state !== 'live') this.liveSince = undefined
    else this.liveSince ??= state.since
    this.state = state
    this.#ears.changed(state)
    this.#host.requestUpdate()
  }
}

/** A page on https may open ws:// to the tablet itself only. */
function faultOf(broker: string): WireFault | undefined {
  if (!broker) return 'none'
  let url: URL
  try {
    url = new URL(broker)
  } catch {
    return 'bad'
  }
  if (url.protocol !== 'ws:' && url.protocol !== 'wss:') return 'bad'
  const own = /^(localhost|127\.\d+\.\d+\.\d+|\[::1\])$/.test(url.hostname)
  return location.protocol === 'https:' && url.protocol === 'ws:' && !own ? 'mixed' : undefined
}
