import { earsOf } from '../../house/policy.ts'
import { newId } from '../../keeper/id.ts'
import type { Credentials } from '../../link/node/links.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo, watchLink } from '../broker/link.ts'
import { keeperIsThere } from '../broker/listening.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { tallyToKeep } from '../store/append-tally.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import { benchLease, mustBeLive, mustReachKeeper, mustReadContacts, NOTHING_HEARD } from './account-trial.ts'
import type * as commands from './commands.ts'
import { listenHouse } from './listen-house.ts'
import type { TestLease } from './on-test.ts'
import { askBefore, askToOpen } from './prove-ask.ts'
import { keepResult } from './prove-keep.ts'
import { rulesOf } from './prove-rules.ts'
import type { BenchSeen, ProveRules, SeenOpening } from './prove-seen.ts'
import { lowestMillivolts, middle, sinceLast } from './prove-since.ts'
import { tellCautions, tellJson, tellText } from './prove-tell.ts'
import { verdictOf } from './prove-verdict.ts'
import { keptWord, Watch } from './prove-watch.ts'

export async function run(
  { args: { file, mark }, options }: Given<typeof commands.prove>,
  world: World,
): Promise<Exit> {
  const { times, power, json } = options
  const from = tallyPathOf(options)
  const register = await readRegister(file, world)
  const opening = openingOf(register, mark)
  const at = await tallyToKeep(from, world)
  const { proofs, own } = await readTally(
    from,
    register,
    world,
    ({ store }) => ({
      proofs: [...store.entries({ whats: ['proved'] })],
      own: [...store.entries({ marks: [opening.mark, ...opening.was] })],
    }),
    { mayBeMissing: true },
  )
  const rules = rulesOf(opening, register, proofs, power)
  const account = await credentialsOf(world)
  const url = brokerUrlOf(register)
  const { feed, version } = watchLink(url, account)
  const watch = new Watch(register, earsOf(register), world, () => newId(world.now()), version)
  const listener = {
    heard: watch.hear.bind(watch),
    down: watch.lost.bind(watch),
    live: watch.live.bind(watch),
  }
  const { isWide } = await listenHouse(feed, register, listener, world)
  let lease: TestLease | undefined
  try {
    watch.mustListen()
    mustReadContacts(watch.signs)
    if (from && !at) mustBeLive(from.path, watch.signs, world)
    tellBefore(watch, isWide, world)
    const isKeeper = keeperIsThere(watch.signs.keeper, world.now())
    if (isKeeper && !at && power === 'cell')
      await mustReachKeeper(linkTo(url, account), register.tally, rules.mark, world)
    const lid = await askBefore(opening.sender, power, world)
    // On a supply no cell sends anything: a keeper that hears it must know.
    if (isKeeper && power === 'bench') lease = await benchLease(linkTo(url, account), register.tally, rules.mark, world)
    const seen = await watchAll(watch, rules, times, { url, account }, world)
    const verdict = verdictOf(seen, { ...rules, heardHouse: watch.signs.isHeard })
    const kept = await keepResult(verdict, watch, rules, { at, register, url, account }, world)
    const since = sinceLast(own, {
      joinMilliseconds: middle(verdict.joinMilliseconds),
      millivolts: lowestMillivolts(watch.entries.filter(entry => entry.mark === rules.mark)),
    })
    const told = { seen, lid, since, kept: kept.says, timezone: register.timezone }
    if (json) tellJson(verdict, rules, told, world)
    else tellText(verdict, rules, told, world)
    tellCautions(lid, world)
    if (!verdict.proved) {
      await lease?.leave()
      lease = undefined
    }
    if (kept.stopped) throw kept.stopped
    return verdict.proved && !kept.isLost ? EXIT.fine : EXIT.input
  } finally {
    await lease?.end()
    await feed.close()
  }
}

function tellBefore({ signs }: Watch, isWide: boolean, world: World): void {
  if (!signs.isHeard) world.stderr.write(`note: ${NOTHING_HEARD}\n`)
  if (!isWide)
    world.stderr.write(
      'note: this account hears the contacts’ own topics only; a word on a wrong topic reads as silence\n',
    )
}

interface Broker {
  readonly url: string
  readonly account: Credentials
}

async function watchAll(
  watch: Watch,
  rules: ProveRules,
  times: number,
  { url, account }: Broker,
  world: World,
): Promise<BenchSeen> {
  const say = (line: string): void => world.stderr.write(`${line}\n`)
  if (rules.power === 'cell') {
    say(
      `This takes ${times} ${times === 1 ? 'opening' : 'openings'} out of the cell of ${rules.mark}; a new coin cell gives about 20 with a cold join (common practice).`,
    )
  }
  const tick = (seconds: number): void => {
    if (world.stderr.isTTY) world.stderr.write(`\r  ${seconds} s `)
  }
  const openings: SeenOpening[] = []
  let kept: string | null | undefined
  for (let n = 1; n <= times; n++) {
    const last = times > 1 && n === times
    await askToOpen(rules.mark, n, times, world)
    const comeIn = last ? () => linkTo(url, account, { clientId: rules.client }) : undefined
    const opening = await watch.opening(rules, comeIn, tick, () => say(`  heard. Shut ${rules.mark} now.`))
    if (world.stderr.isTTY) world.stderr.write('\r')
    // Silence says something of the contact only where the broker is still there.
    if (opening.messages.length === 0) await keptWord(linkTo(url, account), rules.topic, world)
    openings.push(opening)
    if (!last && opening.messages.some(({ what }) => what === 'rest' || what === 'gone'))
      kept = await keptWord(linkTo(url, account), rules.topic, world)
    if (!opening.messages.some(({ what, topic }) => what === 'opened' && topic === rules.topic)) break
    if (n < times && rules.reports === 'openings') say(`  heard. Shut it again and wait until it is at rest.`)
  }
  return { openings, ...(kept === undefined ? {} : { kept }) }
}
