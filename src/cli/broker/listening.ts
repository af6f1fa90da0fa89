import { linkReason } from '../../link/link-reason.ts'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import { GONE_AFTER_MILLISECONDS, type KeeperNote, parseKeeper } from '../../protocol/keeper-note.ts'
import { EXIT, Stop, type World } from '../world.ts'

const ANSWER_SECONDS = 10

/**
 * Opens a feed and waits until it is live.
 * @param onDown - told when the link is lost later, or a filter is refused
 * @param onLive - told each time that it is made
 * @throws Stop exit 3 when the broker refuses or does not answer; the feed is closed then
 */
export async function listenLive(
  feed: Feed,
  filters: readonly string[],
  heard: (message: Heard) => void,
  onDown: (state: LinkState) => void = () => {},
  onLive: () => void = () => {},
): Promise<void> {
  feed.listen(filters)
  try {
    await new Promise<void>((done, failed) => {
      let why = ''
      let wasLive = false
      const timer = setTimeout(
        () => failed(new Stop(EXIT.world, `the broker did not answer within ${ANSWER_SECONDS} s${why}`)),
        ANSWER_SECONDS * 1000,
      )
      feed.open({
        heard,
        link: state => {
          if (state.state === 'live') {
            clearTimeout(timer)
            wasLive = true
            onLive()
            done()
          } else if (state.state === 'refused') {
            clearTimeout(timer)
            failed(new Stop(EXIT.world, refusedWhy(state)))
          } else if (state.state === 'down' && state.why) why = `: ${linkReason(state.why)}`
          if (state.state !== 'live' && wasLive) onDown(state)
        },
      })
    })
  } catch (error) {
    await feed.close()
    throw error
  }
}

/**
 * Waits until `look` is true or the time is over.
 * @returns whether it became true
 * @throws Stop exit 1 when the person stops the command
 */
export async function waitFor(look: () => boolean, seconds: number, world: World, tick?: () => void): Promise<boolean> {
  const end = performance.now() + seconds * 1000
  let ticked = performance.now()
  while (performance.now() < end) {
    if (look()) return true
    if (world.signal.aborted) throw new Stop(EXIT.input, 'stopped')
    if (tick && performance.now() - ticked >= 1000) {
      ticked += 1000
      tick()
    }
    await new Promise(done => setTimeout(done, 25))
  }
  return look()
}

/** Gives the broker time to refuse a filter and to hand over what it keeps, or until `look` is true. */
export const settled = (look: () => boolean, world: World): Promise<boolean> => waitFor(look, 0.4, world)

/** Why the broker refuses, and how another account is named where that may help. */
export const refusedWhy = ({ why, account }: Extract<LinkState, { state: 'refused' }>): string =>
  `the broker refuses: ${why}${account ? '; SASHTALLY_USER and SASHTALLY_PASSWORD_FILE name the account' : ''}`

/** What is said when a link that was live is lost. */
export const lostWhy = (state: LinkState): string =>
  state.state === 'refused'
    ? refusedWhy(state)
    : `the link to the broker was lost${state.state === 'down' && state.why ? `: ${linkReason(state.why)}` : ''}`

/** Whether the state that a keeper last published says that one is at work; `now` in milliseconds. */
export const keeperIsThere = (text: string | undefined, now: number): boolean =>
  isAtWork(text === undefined ? undefined : parseKeeper(text), now)

/** As `keeperIsThere`, of a state that was read. One that is `broken` keeps nothing, or tells nothing. */
export const isAtWork = (note: KeeperNote | undefined, now: number): boolean =>
  note?.state === 'live' && Math.abs(now - Date.parse(note.beat)) < GONE_AFTER_MILLISECONDS
