import { echoText } from '../../protocol/echo.ts'
import type { Feed } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { systemClock, within } from '../clock.ts'
import { newId } from '../id.ts'
import { once } from '../once.ts'
import { filtersOf } from '../publish/notes.ts'
import { olderClientId, olderSessionEnded, sessionMoved } from '../session/client-id.ts'
import { startSession, upTo } from '../session/hand-over.ts'
import { endOf, keeperLink, keeperOf, type Opened } from './keeper-of.ts'
import { KeeperProblem } from './keeper-problem.ts'

/** Longest wait for a marker; then another one is tried. */
const MARKER_MILLISECONDS = 10_000

/**
 * Moves a house out of the session that an earlier version had, whose name anybody could compute. A keeper takes what
 * waited there; then a session under the store's own name begins at a marker, and that keeper ends at the same marker.
 * When the process dies on the way, the next start does it again.
 * @returns false when the signal came first
 * @throws KeeperProblem when the keeper ends by itself
 */
export async function moveSession(opened: Opened, clientId: string): Promise<boolean> {
  const { store, tell } = opened
  tell(
    'an earlier version left a session at the broker, whose name anybody could compute: it is emptied first',
    'session-moved',
  )
  for (;;) {
    const outcome = await tryToMove(opened, clientId)
    if (outcome === 'moved') {
      sessionMoved(store)
      return true
    }
    if (outcome === 'stopped') return false
  }
}

async function tryToMove(opened: Opened, clientId: string): Promise<'moved' | 'stopped' | 'again'> {
  const { register, links, keeper, now, signal } = opened
  const topics = tallyTopics(register.tally)
  const topic = topics.echo(newId(now()))
  const reached = once()
  const feed = upTo(keeperLink(opened, olderClientId(register.tally)), topic, reached.now)
  const house = keeperOf(opened, feed)
  house.start()
  const ended = endOf(house, signal)
  const begun = house.live.then(async () => {
    await endSession(links.link({ clientId, now }))
    const marker = { topic, text: echoText('marker', keeper), filters: filtersOf(register, topics, false) }
    const next = keeperLink(opened, clientId)
    return startSession({ ...marker, feed: next, clock: systemClock }, MARKER_MILLISECONDS)
  })
  const moved = begun.then(came => came && within(MARKER_MILLISECONDS, reached.when))
  const outcome = await Promise.race([moved, ended.then(why => ({ why }))])
  await house.stop()
  if (typeof outcome === 'boolean') return outcome ? 'moved' : 'again'
  if (outcome.why !== undefined) throw new KeeperProblem(outcome.why)
  return 'stopped'
}

/** Ends the session that an earlier version had, once it is empty. */
export async function endOlderSession({ register, links, store, now }: Opened): Promise<void> {
  await endSession(links.link({ clientId: olderClientId(register.tally), now }))
  olderSessionEnded(store)
}

/** A clean session takes the place of a kept one, and ends with its link. */
function endSession(feed: Feed): Promise<void> {
  return new Promise((done, failed) => {
    feed.open({
      heard: () => {},
      link: ({ state }) => {
        if (state === 'live') feed.close().then(done, failed)
      },
    })
  })
}
