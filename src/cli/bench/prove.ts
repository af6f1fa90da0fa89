import { earsOf } from '../../house/policy.ts'
import { newId } from '../../keeper/id.ts'
import { tame } from '../../text/problems.ts'
import { type Credentials, credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo, watchLink } from '../broker/link.ts'
import { listenLive, settled } from '../broker/listening.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { mustBeAppendable, readEntries, tallyPlaceOf } from '../store/history.ts'
import { EXIT, type Exit, NoTerminal, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { keepResult } from './prove-keep.ts'
import { rulesOf } from './prove-rules.ts'
import type { ProveRules, Seen, SeenOpening, Verdict } from './prove-seen.ts'
import { verdictOf } from './prove-verdict.ts'
import { filtersOf, keptWord, Watch } from './prove-watch.ts'

const LID =
  'The lid of a coin cell must need a tool, or two independent and simultaneous movements, to open (ANSI/UL 4200A, 16 CFR 1263): a press-fit lid does not do. A swallowed cell or magnet kills; medical help at once.'

export async function run(
  { args: { file, mark }, options }: Given<typeof commands.prove>,
  world: World,
): Promise<Exit> {
  const { times, power, json } = options
  const place = tallyPlaceOf(options)
  const register = await readRegister(file, world)
  const opening = openingOf(register, mark)
  await mustBeAppendable(place, world)
  const rules = rulesOf(opening, register, await readEntries(place, world, { register, mayBeMissing: true }), power)
  const account = await credentialsOf(world)
  const url = brokerUrlOf(register)
  const { feed, version } = watchLink(url, account)
  const watch = new Watch(register, earsOf(register), world, () => newId(world.now()), version)
  await listenLive(
    feed,
    filtersOf(register),
    message => watch.hear(message),
    why => watch.lost(why),
    () => watch.live(),
  )
  try {
    await settled(() => watch.isLost, world)
    watch.mustListen()
    const lid = opening.sender.power === 'cell' ? await askLid(world) : undefined
    const seen = await watchAll(watch, rules, times, { url, account }, world)
    const verdict = verdictOf(seen, { ...rules, heardHouse: watch.heardHouse })
    const kept = await keepResult(verdict, watch, rules, { place, register, url, account }, world)
    tell(verdict, rules, { seen, lid, kept: kept.says, json }, world)
    if (kept.stopped) throw kept.stopped
    return verdict.proved && !kept.isLost ? EXIT.fine : EXIT.input
  } finally {
    await feed.close()
  }
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
): Promise<Seen> {
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
    await press(
      `${n} of ${times}: press Enter and open ${rules.mark} in the same moment${last ? ' (this one confirms the client id)' : ''}. `,
      world,
    )
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

async function press(question: string, world: World): Promise<void> {
  try {
    await world.ask(question)
  } catch (error) {
    if (error instanceof NoTerminal)
      throw new Stop(EXIT.usage, 'prove asks you to open the contact: run it at a terminal')
    throw error
  }
}

async function askLid(world: World): Promise<boolean | undefined> {
  const answer = await world
    .ask('Does the lid of its cell need a tool, or two independent movements, to open? (yes or no) ')
    .catch(() => '')
  return /^y/i.test(answer.trim()) ? true : /^n/i.test(answer.trim()) ? false : undefined
}

interface Told {
  readonly seen: Seen
  readonly lid: boolean | undefined
  readonly kept: string
  readonly json: boolean
}

function tell(verdict: Verdict, rules: ProveRules, { seen, lid, kept, json }: Told, world: World): void {
  const say = (line: string): void => world.stdout.write(`${tame(line)}\n`)
  if (json) {
    const { mark, power } = rules
    world.stdout.write(
      `${JSON.stringify({ mark, power, ...verdict, ...(lid === undefined ? {} : { lidNeedsTool: lid }), kept, seen }, null, 2)}\n`,
    )
  } else {
    const unsure = verdict.checks.some(({ name, result }) => name === 'client id' && result === 'not seen')
    say(
      `${rules.mark}: ${verdict.proved ? `proved${unsure ? ', but its client id was not confirmed' : ''}` : 'not proved'}`,
    )
    for (const { name, result, says } of verdict.checks) say(`  ${name.padEnd(10)}  ${result.padEnd(8)}  ${says}`)
    if (verdict.causes.length) say('Likely causes, in the order to try them:')
    for (const [index, cause] of verdict.causes.entries()) say(`  ${index + 1}. ${cause}`)
    say(kept)
  }
  if (lid !== true && rules.reports === 'openings') world.stderr.write(`Caution: ${LID}\n`)
}
