import { newId } from '../../keeper/id.ts'
import type { Feed } from '../../protocol/feed.ts'
import { firstOf } from '../../text/lists.ts'
import { keeperIsThere } from '../broker/listening.ts'
import { sayOver } from '../tally/say-over.ts'
import { EXIT, Stop, type World } from '../world.ts'
import type { HouseSigns } from './house-signs.ts'
import { TestLease } from './on-test.ts'

const BENCH = 'SASHTALLY_USER=bench is the account for it (emit access)'

/**
 * Tries what an account may do, before anybody opens anything. Some brokers take a listener in and hand it nothing:
 * that shows when the keeper has heard words of contacts, and not one of those that the broker keeps came here.
 * @throws Stop exit 3 when the account may not read the contacts
 */
export function mustReadContacts({ heardByKeeperAlone }: HouseSigns): void {
  if (heardByKeeperAlone.length === 0) return
  throw new Stop(
    EXIT.world,
    `the keeper has heard ${firstOf(heardByKeeperAlone, 4)}, and the broker handed not one kept word of a contact to this account: it may not read them. ${BENCH}. Where the broker was rebuilt and holds no words any more: keep --give-rest-words, once`,
  )
}

/**
 * A folder in which a keeper is at work is only read: the results go to that keeper.
 * @throws Stop exit 3 when no keeper is live at this broker
 */
export function mustBeLive(data: string, { keeper }: HouseSigns, world: World): void {
  if (keeperIsThere(keeper, world.now())) return
  throw new Stop(
    EXIT.world,
    `a keeper is at work in ${data}, and none is live at this broker, so that a result could not be kept: is it the broker of the register?`,
  )
}

/**
 * Says something that no keeper takes, and waits for the answer: whether the account may say, and hear the answer.
 * @throws Stop exit 3 when none comes
 */
export async function mustReachKeeper(feed: Feed, tally: string, mark: string, world: World): Promise<void> {
  try {
    await sayOver(feed, tally, mark, { what: 'undone', undoes: `trial-${newId(world.now())}` }, world)
  } catch (error) {
    if (!(error instanceof Stop)) throw error
    throw new Stop(error.exit, `${error.message} A result could not be kept. ${BENCH}`)
  }
}

/**
 * Puts a contact that is proved on a supply on test, which also shows whether the account may say.
 * @throws Stop where the keeper cannot be told
 */
export async function benchLease(feed: Feed, tally: string, mark: string, world: World): Promise<TestLease> {
  try {
    return await TestLease.begin(feed, tally, [mark], world)
  } catch (error) {
    if (!(error instanceof Stop)) throw error
    throw new Stop(error.exit, `${error.message} The keeper would count what is proved on a supply. ${BENCH}`)
  }
}

/** What is said where nothing of the house was heard and nobody can know why. */
export const NOTHING_HEARD =
  'not one word of a contact was heard yet, kept ones too: either none has ever spoken, or this account may not read them'
