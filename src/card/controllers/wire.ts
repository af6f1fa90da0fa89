import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import { isLoopbackAddress } from '../../text/loopback.ts'
import type { LinkFault, LinkOff } from '../state/link.ts'
import type { CardWorld, Credentials } from '../world.ts'

interface On {
  heard(message: Heard): void
  standing(standing: LinkState | LinkOff): void
  /** A broker is dialled, or the same with another account. */
  dialled(): void
}

/** The socket to the broker: open while the element is in the page, made anew for another address or account. */
export class Wire implements ReactiveController {
  readonly #host: ReactiveControllerHost & HTMLElement
  readonly #world: () => CardWorld
  readonly #on: On
  #feed: Feed | undefined
  #broker: string | undefined
  #credentials: Credentials | undefined
  #filters: readonly string[] = []

  constructor(host: ReactiveControllerHost & HTMLElement, world: () => CardWorld, on: On) {
    this.#host = host
    this.#world = world
    this.#on = on
    host.addController(this)
  }

  hostConnected(): void {
    this.#open()
  }

  hostDisconnected(): void {
    this.#shut()
  }

  /** Dials when this is another broker or another account; the same again changes nothing. */
  use(broker: string, credentials: Credentials | undefined): void {
    if (broker === this.#broker && credentials === this.#credentials) return
    this.#broker = broker
    this.#credentials = credentials
    this.#on.dialled()
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
    const fault = broker.split(' ').map(faultOf).find(Boolean)
    const feed = fault ? undefined : this.#world().feed?.(broker, this.#credentials)
    if (!feed) {
      this.#on.standing({ state: 'off', since: this.#world().now(), fault: fault ?? 'none' })
      return
    }
    this.#feed = feed
    feed.listen(this.#filters)
    feed.open({
      heard: message => {
        if (this.#feed === feed) this.#on.heard(message)
      },
      link: state => {
        if (this.#feed === feed) this.#on.standing(state)
      },
    })
  }

  #shut(): void {
    void this.#feed?.close().catch(() => {})
    this.#feed = undefined
  }
}

/** A page on https may open ws:// to the tablet itself only. */
function faultOf(broker: string): LinkFault | undefined {
  if (!broker) return 'none'
  let url: URL
  try {
    url = new URL(broker)
  } catch {
    return 'bad'
  }
  if (url.protocol !== 'ws:' && url.protocol !== 'wss:') return 'bad'
  return location.protocol === 'https:' && url.protocol === 'ws:' && !isLoopbackAddress(url.hostname)
    ? 'mixed'
    : undefined
}
