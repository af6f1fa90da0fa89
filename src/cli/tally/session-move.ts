import { systemClock } from '../../keeper/clock.ts'
import { newId } from '../../keeper/id.ts'
import { once } from '../../keeper/once.ts'
import { filtersOf } from '../../keeper/publish/notes.ts'
import { olderClientId, olderSessionEnded, sessionMoved } from '../../keeper/session/client-id.ts'
import { startSession, upTo } from '../../keeper/session/hand-over.ts'
import { echoText } from '../../protocol/echo.ts'
import type { Feed } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { linkTo } from '../broker/link.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { endOf, keeperLink, keeperOf, type Opened } from './keeper-of.ts'

/** Longest wait for a marker; then another one is tried. */
const MARKER_MILLISECONDS = 10_000

/**
 * Moves a house out of the session that an earlier version had, whose name anybody could compute. A keeper takes what
 * waited there; then a session under the store's own name begins at a marker, and that keeper ends at the same marker.
 * When the process dies on the way, the next start does it again.
 * @returns false when the world's signal came first
 * @throws Stop exit 3 when the keeper ends by itself
 */
export async function moveSession(opened: Opened, clientId: string, world: World): Promise<boolean> {
  const { store, tell } = opened
  tell('an earlier version left a session at the broker, whose name anybody could compute: it is emptied first')
  for (;;) {
    const outcome = await tryToMove(opened, clientId, world)
    if (outcome === 'moved') {
      sessionMoved(store)
      return true
    }
    if (outcome === 'stopped') return false
  }
}

async function tryToMove(opened: Opened, clientId: string, world: World): Promise<'moved' | 'stopped' | 'again'> {
  const { register, broker, account, trust, keeper } = opened
  const topics = tallyTopics(register.tally)
  const topic = topics.echo(newId(world.now()))
  const reached = once()
  const feed = upTo(keeperLink(opened, olderClientId(register.tally), world), topic, reached.now)
  const house = keeperOf(opened, feed, world)
  house.start()
  const ended = endOf(house, world.signal)
  const begun = house.live.then(async () => {
    await endSession(linkTo(broker, account, { clientId, now: world.now }, trust))
    const marker = { topic, text: echoText('marker', keeper), filters: filtersOf(register, topics, false) }
    const next = keeperLink(opened, clientId, world)
    return startSession({ ...marker, feed: next, clock: systemClock }, MARKER_MILLISECONDS)
  })
  const moved = begun.then(came => came && inTime(reached.when))
  const outcome = await Promise.race([moved, ended.then(why => ({ why }))])
  await house.stop()
  if (typeof outcome === 'boolean') return outcome ? 'moved' : 'again'
  if (outcome.why !== undefined) throw new Stop(EXIT.world, outcome.why)
  return 'stopped'
}

/** Ends the session that an earlier version had, once it is empty. */
export async function endOlderSession(
  { register, broker, account, trust, store }: Opened,
  world: World,
): Promise<void> {
  await endSession(linkTo(broker, account, { clientId: olderClientId(register.tally), now: world.now }, trust))
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

const inTime = (reached: Promise<void>): Promise<boolean> =>
  new Promise(done => {
    const cancel = systemClock.after(MARKER_MILLISECONDS, () => done(false))
    void reached.then(() => {
      cancel()
      done(true)
    })
  })
