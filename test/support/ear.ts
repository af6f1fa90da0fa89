import type { Connect } from '../../src/link/connection.ts'
import type { FeedOptions } from '../../src/link/feed-options.ts'
import { mqttFeed } from '../../src/link/mqtt-feed.ts'
import { connectNode } from '../../src/link/node/package-connection.ts'
import type { Feed, Heard, LinkState } from '../../src/protocol/feed.ts'
import { until } from './until.ts'

/** A feed that keeps all it was told. */
export interface Ear {
  readonly feed: Feed
  readonly heard: (Heard & { readonly text: string; readonly at: number })[]
  readonly states: LinkState[]
  readonly errors: unknown[]
  readonly state: () => LinkState['state'] | undefined
  /** Waits for the nth message, from 1. */
  nth(n: number, seconds?: number): Promise<Ear['heard'][number]>
  live(): Promise<LinkState & { state: 'live' }>
  /** Live, and the broker has taken its filters: it answers in the order in which it is asked. */
  listening(): Promise<void>
}

export function listenTo(
  options: Partial<FeedOptions> & { url: string },
  filters: readonly string[] = [],
  onHeard: (message: Heard) => void | Promise<void> = () => {},
): Ear {
  const errors: unknown[] = []
  const feed = mqttFeed({
    connect: connectNode(),
    retry: { firstSeconds: 0.1, mostSeconds: 0.4 },
    onListenerError: error => errors.push(error),
    ...options,
  })
  const ear: Ear = {
    feed,
    heard: [],
    states: [],
    errors,
    state: () => ear.states.at(-1)?.state,
    nth: (n, seconds?) => until(`message ${n}`, () => ear.heard[n - 1], seconds),
    live: async () => {
      await until('the link to be live', () => ear.state() === 'live')
      return ear.states.at(-1) as LinkState & { state: 'live' }
    },
    listening: async () => {
      await ear.live()
      // Refused or not, it was answered.
      await feed.publish('ear/listening', '').catch(() => {})
    },
  }
  feed.listen(filters)
  feed.open({
    heard(message) {
      ear.heard.push({ ...message, text: new TextDecoder().decode(message.payload), at: Date.now() })
      return onHeard(message)
    },
    link: state => void ear.states.push(state),
  })
  return ear
}

/** Ears over one kind of connection, which are closed together. */
export function earsOver(connect: Connect) {
  const made: Ear[] = []
  return {
    ear(...[options, filters, onHeard]: Parameters<typeof listenTo>): Ear {
      const ear = listenTo({ connect, ...options }, filters, onHeard)
      made.push(ear)
      return ear
    },
    close: () => Promise.all(made.map(({ feed }) => feed.close())),
  }
}
