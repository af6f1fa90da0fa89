import { randomBytes } from 'node:crypto'
import { resolve } from 'node:path'
import { policyOf } from '../../house/policy.ts'
import { systemClock } from '../../keeper/clock.ts'
import { HomieDevices, homieWill } from '../../keeper/publish/homie.ts'
import { silentSentence } from '../../keeper/publish/sentences.ts'
import { type ChallengeHooks, challenge } from '../../keeper/session/challenge.ts'
import { sessionName } from '../../keeper/session/client-id.ts'
import type { LinkState } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { iso } from '../../text/time.ts'
import { linkTo } from '../broker/link.ts'
import { linkReason } from '../broker/reason.ts'
import { readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { STDIN } from '../program/option.ts'
import { writeFolder } from '../store/append-tally.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { endOf, type KeepingOptions, keeperLink, keeperOf, type Opened, warner } from './keeper-of.ts'
import { mustBeNew } from './new-tally.ts'
import { watchRegister } from './register-watch.ts'
import { endOlderSession, moveSession } from './session-move.ts'

/**
 * Runs the keeper of a house until it is stopped: takes the folder and the house's one place, follows the register.
 * @returns when the world's signal stops it
 * @throws Stop exit 3 when the folder, the place or the disk cannot be had, or another keeper takes over
 */
export async function keepHouse(options: KeepingOptions, world: World): Promise<void> {
  const text = await readInput(options.path, world)
  const register = await readRegister(options.path, world)
  const startedIso = iso(world.now())
  const keeper = randomBytes(6).toString('hex')
  const { folder, broker, account, trust } = options
  const feed = () => linkTo(broker, account, { now: world.now }, trust)
  const link = linkTeller(options)
  await writeFolder(
    folder,
    policyOf(register),
    world,
    async store => {
      if (world.signal.aborted) return
      store.begin(startedIso)
      await keepStore({ ...options, register, text, store, startedIso, keeper }, world)
    },
    options.beginAnew ? undefined : () => mustBeNew({ folder, register, keeper, feed, link }, world),
  )
}

async function keepStore(opened: Opened, world: World): Promise<void> {
  const { path, store, tell } = opened
  const place = await takePlace(opened, world)
  if (!place) return
  const name = sessionName(store)
  if (name.older === 'waits' && !(await moveSession(opened, name.clientId, world))) return
  if (name.older) await endOlderSession(opened, world)
  const house = keeperOf(opened, keeperLink(opened, name.clientId, world), world)
  const watch =
    path === STDIN
      ? undefined
      : watchRegister(
          { path, file: resolve(world.cwd, path), first: opened.text, now: world.now },
          { edited: edited => house.adopt(edited), broken: problem => house.refuseEdit(problem) },
        )
  if (!watch) tell('the register came from standard input: an edit of it is not taken up')
  house.start()
  opened.opened?.({ state: () => house.state(), newest: () => store.lastAt() ?? 0, health: () => house.health() })
  const devices = opened.homie ? homieOf(opened, world) : undefined
  void house.live.then(() => {
    void place.release()
    devices?.start()
  })
  const why = await endOf(house, world.signal)
  opened.opened?.(undefined)
  watch?.stop()
  await place.release()
  await devices?.stop()
  await house.stop()
  if (why !== undefined) throw new Stop(EXIT.world, why)
}

/** On a link of its own, whose last will tells that the house is lost. */
function homieOf({ register, broker, account, trust, tell }: Opened, world: World): HomieDevices {
  const { tally, openings, homieDomain: domain } = register
  const will = homieWill(
    domain,
    tally,
    openings.map(({ mark }) => mark),
  )
  const feed = linkTo(broker, account, { will, now: world.now }, trust)
  return new HomieDevices({ feed, tally, domain, now: world.now, tell })
}

/** Says why there is no broker yet. */
const linkTeller =
  ({ broker, tell }: KeepingOptions) =>
  (state: LinkState): void => {
    if (state.state === 'refused') tell(`the broker at ${broker} refuses: ${state.why}; trying on`)
    else if (state.state === 'down')
      tell(`no broker at ${broker}${state.why ? ` (${linkReason(state.why)})` : ''}; trying on`)
  }

async function takePlace(opened: Opened, world: World): Promise<{ release(): Promise<void> } | undefined> {
  const { register, broker, account, trust, keeper } = opened
  const scout = linkTo(broker, account, { now: world.now }, trust)
  const hooks: ChallengeHooks = {
    link: linkTeller(opened),
    silent: () => warner(world)(silentSentence(tallyTopics(register.tally).filters.echoes)),
  }
  const found = await challenge(scout, register.tally, keeper, systemClock, hooks, world.signal).catch(error => {
    if (!world.signal.aborted) throw error
  })
  if (!found) return undefined
  if (found.free) return found
  const since = found.since === '' ? 'is just starting' : `has been at work since ${found.since}`
  throw new Stop(EXIT.world, `another keeper of ${register.tally} ${since}: one keeper a house; end it first`)
}
