import { earsOf } from '../house.ts'
import { newId } from '../keeper/id.ts'
import type { Entry } from '../ledger/types.ts'
import { tame } from '../register/problems.ts'
import type { Opening, Register } from '../register/types.ts'
import { type Account, accountOf } from './account.ts'
import { readRegister } from './files.ts'
import { appendEntries, readEntries, TALLY_OPTIONS, type TallyPlaceOptions, tallyPlaceOf } from './history.ts'
import { brokerOf, linkTo } from './house-link.ts'
import { keeperIsThere, listenLive } from './listening.ts'
import type { ProveRules, Seen, SeenOpening, Verdict } from './prove-seen.ts'
import { verdictOf } from './prove-verdict.ts'
import { filtersOf, keptWord, Watch } from './prove-watch.ts'
import { plainNumber } from './quantity.ts'
import { sayOver } from './say-over.ts'
import { type CommandSpec, EXIT, type Exit, type Given, NoTerminal, Stop, type World } from './world.ts'

export const proveCommand: CommandSpec = {
  name: 'prove',
  args: '<file> <mark>',
  summary: 'Prove one contact: open it, watch its words, and get a verdict with the likely causes of what failed.',
  options: [
    { flags: '--power <source>', text: 'what feeds it now', choices: ['bench', 'cell'], fallback: 'bench' },
    {
      flags: '--times <number>',
      text: 'openings to ask for; from the second on, the last confirms the client id',
      fallback: '2',
    },
    ...TALLY_OPTIONS,
    { flags: '--json', text: 'print what was seen and the verdict as JSON' },
  ],
  examples: [
    'sashtally prove examples/ropewalk.yaml W07 --tally tally.jsonl',
    'sashtally prove examples/ropewalk.yaml W07 --power cell --times 3',
  ],
  run,
}

/** Where no contact of the kind was proved before, a mains contact is given this long. */
const MAINS_SECONDS = 10
const LID =
  'The lid of a coin cell must need a tool, or two independent and simultaneous movements, to open (ANSI/UL 4200A, 16 CFR 1263): a press-fit lid does not do. A swallowed cell or magnet kills; medical help at once.'

async function run({ args: [path = '', mark = ''], options }: Given, world: World): Promise<Exit> {
  const times = plainNumber(String(options.times), '--times')
  if (!Number.isInteger(times) || times < 1 || times > 20)
    throw new Stop(EXIT.usage, `--times is a whole number from 1 to 20; found ${times}`)
  const place = tallyPlaceOf(options)
  const register = await readRegister(path, world)
  const opening = register.openings.find(one => one.mark === mark)
  if (!opening) throw new Stop(EXIT.input, `${tame(path)} has no opening with the mark ${tame(mark)}`)
  const rules = rulesOf(
    opening,
    register,
    await readEntries(place, world, { mayBeMissing: true }),
    options.power as 'bench' | 'cell',
  )
  const account = await accountOf(world)
  const url = brokerOf(register)
  const watch = new Watch(register, earsOf(register), world, () => newId(world.now()))
  const feed = linkTo(url, account, { retainAsPublished: true })
  await listenLive(feed, filtersOf(register), message => watch.hear(message))
  try {
    const seen = await watchAll(watch, rules, times, { url, account }, world)
    const verdict = verdictOf(seen, rules)
    const lid = opening.sender.power === 'cell' ? await askLid(world) : undefined
    const kept = await keep(verdict, watch, rules, { place, register, url, account }, world)
    tell(verdict, rules, { seen, lid, kept, json: options.json === true }, world)
    return verdict.proved ? EXIT.fine : EXIT.input
  } finally {
    await feed.close()
  }
}

/** What this contact should do; the limit of its first word from contacts of its kind that were proved before. */
export function rulesOf(
  opening: Opening,
  register: Register,
  entries: readonly Entry[],
  power: 'bench' | 'cell',
): ProveRules {
  const { sender, mark } = opening
  const kind = new Set(register.openings.filter(one => one.sender.name === sender.name).map(one => one.mark))
  const joins = entries.flatMap(({ what, mark: of, joinMilliseconds: join }) =>
    what === 'proved' && kind.has(of) && join ? [join / 1000] : [],
  )
  const median = joins.sort((a, b) => a - b)[Math.floor(joins.length / 2)]
  const firstWord =
    median !== undefined && joins.length >= 3
      ? {
          seconds: Math.max(1.5 * median, median + 1),
          restsOn: `half as much again as the median of ${joins.length} proved of its kind, at least 1 s more`,
        }
      : sender.bootSeconds > 0
        ? {
            seconds: 2 * sender.bootSeconds,
            restsOn: 'twice its load’s time; fewer than 3 of its kind were proved before',
          }
        : { seconds: MAINS_SECONDS, restsOn: 'for the first contacts of a kind on mains' }
  return {
    mark,
    topic: opening.topic,
    client: opening.client,
    reports: sender.reports,
    opened: sender.words.opened,
    rest: sender.words.rest ?? sender.words.gone ?? '',
    keepAliveSeconds: sender.keepAliveSeconds,
    qos: sender.qos,
    power,
    firstWordSeconds: firstWord.seconds,
    firstWordRestsOn: firstWord.restsOn,
    revision: opening.revision,
    speaksRevision: sender.json?.revision !== undefined,
    others: new Map(register.openings.filter(one => one.mark !== mark).map(one => [one.topic, one.mark])),
  }
}

interface Broker {
  readonly url: string
  readonly account: Account
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
    const opening = await watch.opening(rules, comeIn, tick)
    if (world.stderr.isTTY) world.stderr.write('\r')
    openings.push(opening)
    if (!last && opening.messages.some(({ what }) => what === 'rest' || what === 'gone'))
      kept = await keptWord(linkTo(url, account), rules.topic, world)
    if (!opening.messages.some(({ what, topic }) => what === 'opened' && topic === rules.topic)) break
    if (n < times) say(`  heard. Shut it again and wait until it is at rest.`)
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

interface Keeping extends Broker {
  readonly place: TallyPlaceOptions
  readonly register: Register
}

/** Keeps the result: with a running keeper it is said, else it stands in the tally with the words that were heard. */
async function keep(
  verdict: Verdict,
  watch: Watch,
  rules: ProveRules,
  { place, register, url, account }: Keeping,
  world: World,
): Promise<string> {
  const what = verdict.proved ? 'proved' : 'failed'
  const bench = rules.power === 'bench'
  const joins = [...verdict.joinMilliseconds].sort((a, b) => a - b)
  const join = joins[Math.floor(joins.length / 2)]
  if (place.tally !== undefined || place.data !== undefined) {
    const words = watch.entries
      .filter(entry => entry.mark === rules.mark)
      .map(entry => (bench ? { ...entry, sends: 0 } : entry))
    const result: Entry = {
      id: newId(world.now()),
      at: new Date(world.now()).toISOString(),
      mark: rules.mark,
      what,
      how: 'live',
      ...(bench ? { text: 'bench' } : {}),
      ...(verdict.causes[0] === undefined ? {} : { note: verdict.causes[0] }),
      ...(join === undefined ? {} : { joinMilliseconds: join }),
    }
    await appendEntries(place, [...words, result], world)
    return `kept in ${place.tally ?? place.data}`
  }
  if (!keeperIsThere(watch.keeper, world.now())) return 'kept nowhere: no keeper runs, and no --tally was given'
  const note = bench ? 'bench' : verdict.causes[0]?.slice(0, 200)
  const heard = await sayOver(
    linkTo(url, account),
    register.tally,
    rules.mark,
    { what, ...(note === undefined ? {} : { note }), ...(join === undefined ? {} : { joinMilliseconds: join }) },
    world,
  )
  return heard.ok ? 'kept by the keeper' : `not kept, the keeper says: ${heard.problem}`
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
    say(`${rules.mark}: ${verdict.proved ? 'proved' : 'not proved'}`)
    for (const { name, result, says } of verdict.checks) say(`  ${name.padEnd(10)}  ${result.padEnd(8)}  ${says}`)
    if (verdict.causes.length) say('Likely causes, in the order to try them:')
    for (const [index, cause] of verdict.causes.entries()) say(`  ${index + 1}. ${cause}`)
    say(kept)
  }
  if (lid !== true && rules.reports === 'openings') world.stderr.write(`Caution: ${LID}\n`)
}
