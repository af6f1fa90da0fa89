import type { Feed } from '../../protocol/feed.ts'
import { utf8Text } from '../../text/utf8.ts'
import { listenLive } from '../broker/listening.ts'
import type { World } from '../world.ts'
import type { OverheardLog } from './overhear-log.ts'

/** A broker answers a subscription with the copy it keeps within this time. */
const ANSWER_MILLISECONDS = 600
const PAUSE_MILLISECONDS = 50
const MOST_AT_ONCE = 50
const LAST_ROUNDS = 2

/**
 * Asks the broker by fresh subscriptions which of the words that came are kept: a broker of MQTT 3.1.1 does not say
 * it with the word itself. Ends when `over` is true, and closes the feed.
 */
export async function askWhatIsKept(
  feed: Feed,
  log: OverheardLog,
  over: () => boolean,
  world: Pick<World, 'now'>,
): Promise<void> {
  let copies = new Map<string, string>()
  let unbroken = false
  let live = false
  try {
    await listenLive(
      feed,
      [],
      ({ topic, payload, retain }) => {
        if (retain) copies.set(topic, utf8Text(payload, 2_000))
      },
      () => {
        live = unbroken = false
      },
      () => {
        live = true
      },
    )
    // The last words of the listening are asked about after its end.
    for (let rounds = LAST_ROUNDS; rounds > 0; ) {
      if (over()) rounds--
      const asked = live ? log.doubtful(MOST_AT_ONCE) : []
      if (asked.length === 0) {
        if (over()) break
        await pause(PAUSE_MILLISECONDS)
        continue
      }
      copies = new Map()
      unbroken = true
      feed.listen(asked.map(({ topic }) => topic))
      for (const asking = performance.now(); performance.now() - asking < ANSWER_MILLISECONDS; ) {
        await pause(PAUSE_MILLISECONDS)
        if (asked.every(({ topic }) => copies.has(topic))) break
      }
      // An answer that a broken link swallowed is no answer.
      if (unbroken) for (const one of asked) log.learn(one, copies.get(one.topic), world.now())
      feed.listen([])
    }
  } finally {
    await feed.close()
  }
}

const pause = (milliseconds: number): Promise<void> => new Promise(done => setTimeout(done, milliseconds))
