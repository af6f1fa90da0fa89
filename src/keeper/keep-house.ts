import { randomBytes } from 'node:crypto'
import { policyOf } from '../house/policy.ts'
import { PROGRAM_BEGAN } from '../ledger/clock-set.ts'
import { iso } from '../text/time.ts'
import type { KeepOptions } from './begin/keep-options.ts'
import { endOf, keeperLink, keeperOf, type Opened } from './begin/keeper-of.ts'
import { KeeperProblem } from './begin/keeper-problem.ts'
import { mustBeNew } from './begin/new-tally.ts'
import { askForPlace, linkTeller } from './begin/place.ts'
import { endOlderSession, moveSession } from './begin/session-move.ts'
import { HomieDevices, homieWill } from './publish/homie.ts'
import { sessionName } from './session/client-id.ts'
import { withFolder } from './store/folder.ts'
import { turnOf } from './turns.ts'

/**
 * Runs the keeper of a house until its signal ends it: takes the folder and the house's one place at the broker, waits
 * for the broker as long as it takes, keeps every word on the disk before it is acknowledged, and publishes the readings.
 * @throws StoreProblem when the folder or the disk cannot be had
 * @throws KeeperProblem when the place cannot be had, another keeper takes over, or the broker holds readings of a tally
 * that the folder does not
 * @example
 * import { parseRegister } from 'sashtally'
 * import { keepHouse, linksTo, openTally } from 'sashtally/keeper'
 *
 * const { register } = parseRegister(`
 * house: Ropewalk Studios
 * timezone: Europe/Lisbon
 * tally: ropewalk/tally
 * senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
 * openings: [{ mark: W07, name: Rope loft, sender: coin }]
 * `)
 * if (!register) throw new Error('the register has problems')
 * const stop = new AbortController()
 * await keepHouse({
 *   register,
 *   folder: 'tally',
 *   links: linksTo('mqtt://127.0.0.1:1883', { username: 'keeper', password: 'from a file' }),
 *   signal: stop.signal,
 *   tell: line => console.error(line),
 *   // A service stops on a signal of the system; this example stops as soon as it is at work.
 *   opened: () => stop.abort(),
 * })
 * const tally = openTally('tally', register)
 * console.log(tally.length) // 0
 * await tally.close()
 */
export async function keepHouse(options: KeepOptions): Promise<void> {
  const { register, folder, signal, now = Date.now } = options
  const keeper = randomBytes(6).toString('hex')
  const startedIso = iso(Math.max(now(), PROGRAM_BEGAN))
  const given = { ...options, now, keeper, startedIso }
  await withFolder(
    { folder, startedIso, policy: policyOf(register) },
    async store => {
      if (signal.aborted) return
      store.begin(startedIso)
      await keepStore({ ...given, store })
    },
    options.beginAnew ? undefined : () => mustBeNew({ ...given, linkState: linkTeller(options) }),
  )
}

async function keepStore(given: Opened): Promise<void> {
  const { store, signal } = given
  const place = await takePlace(given)
  if (!place) return
  const opened = { ...given, wasBrokerDown: place.wasBrokerDown }
  const name = await turnOf(() => sessionName(store))
  if (name.older === 'waits' && !(await moveSession(opened, name.clientId))) return
  if (name.older) await endOlderSession(opened)
  const house = await turnOf(() => {
    const made = keeperOf(opened, keeperLink(opened, name.clientId))
    made.start()
    return made
  })
  const devices = opened.homie ? homieOf(opened) : undefined
  let why: string | undefined
  try {
    opened.opened?.({
      state: () => house.state(),
      latest: () => house.state('last'),
      newest: () => store.lastAt() ?? 0,
      ...house.health,
      adopt: edited => house.adopt(edited),
      refuseEdit: (problem, isTold) => house.refuseEdit(problem, isTold),
    })
    void house.live.then(() => {
      void place.release()
      devices?.start()
    })
    why = await endOf(house, signal)
    opened.opened?.(undefined)
  } finally {
    // Whatever failed, no keeper goes on with a store that is shut.
    await Promise.allSettled([place.release(), devices?.stop()])
    await house.stop()
  }
  if (why !== undefined) throw new KeeperProblem(why)
}

/** On a link of its own, whose last will tells that the house is lost. */
function homieOf({ register, links, now, tell }: Opened): HomieDevices {
  const { tally, openings, homieDomain: domain } = register
  const will = homieWill(
    domain,
    tally,
    openings.map(({ mark }) => mark),
  )
  return new HomieDevices({ feed: links.link({ will, now }), tally, domain, now, tell })
}

async function takePlace(
  opened: Opened,
): Promise<{ release(): Promise<void>; readonly wasBrokerDown: boolean } | undefined> {
  let wasBrokerDown = false
  const nobodyListens = (): void => {
    wasBrokerDown = true
  }
  const found = await askForPlace({ ...opened, nobodyListens })
  if (!found) return undefined
  if (found.free) return { release: found.release, wasBrokerDown }
  const since = found.since === '' ? 'is just starting' : `has been at work since ${found.since}`
  throw new KeeperProblem(`another keeper of ${opened.register.tally} ${since}: one keeper a house; end it first`)
}
