import type { Feed } from '../../protocol/feed.ts'
import type { Clock } from '../clock.ts'

/** What is answered for a message that is to stay unacknowledged. */
export const NEVER = new Promise<void>(() => {})

/**
 * As `feed`, up to the first message on `topic`: what comes after it is neither handed on nor acknowledged.
 * @param reached - called at that message, before anything that follows it
 */
export function upTo(feed: Feed, topic: string, reached: () => void): Feed {
  let isOver = false
  return {
    listen: filters => feed.listen(filters),
    publish: (...given) => feed.publish(...given),
    close: () => feed.close(),
    open: listener =>
      feed.open({
        link: state => listener.link(state),
        heard(message) {
          if (isOver) return NEVER
          if (message.topic !== topic) return listener.heard(message)
          isOver = true
          reached()
        },
      }),
  }
}

export interface Start {
  readonly feed: Feed
  readonly filters: readonly string[]
  /** Where the marker is published, and what; one of `filters` reads it. */
  readonly topic: string
  readonly text: string
  readonly clock: Clock
}

/**
 * Makes a session that begins at a marker: it subscribes, publishes the marker, lets go of all that comes before it, and
 * leaves to the session what comes after. Who listens elsewhere hears the marker at the same place among the messages.
 * @returns whether the marker came back before `milliseconds`; the feed is closed then
 */
export function startSession({ feed, filters, topic, text, clock }: Start, milliseconds: number): Promise<boolean> {
  return new Promise((done, failed) => {
    let isOver = false
    const end = (came: boolean): void => {
      isOver = true
      cancel()
      feed.close().then(() => done(came), failed)
    }
    const cancel = clock.after(milliseconds, () => end(false))
    feed.listen(filters)
    feed.open({
      link: state => {
        if (state.state === 'live') clock.after(0, () => void feed.publish(topic, text).catch(() => {}))
      },
      heard(message) {
        if (isOver) return NEVER
        if (message.topic === topic) end(true)
      },
    })
  })
}
