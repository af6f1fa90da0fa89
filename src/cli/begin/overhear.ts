import { brokerOf, TOPIC_BYTES, utf8Length } from '../../register/topics.ts'
import { tame } from '../../text/problems.ts'
import { accountOf } from '../shared/account.ts'
import { refuseTaken, writeNew } from '../shared/files.ts'
import { linkTo } from '../shared/house-link.ts'
import { listenLive, waitFor } from '../shared/listening.ts'
import { plainNumber } from '../shared/quantity.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from '../world.ts'
import { askWhatIsKept } from './overhear-ask.ts'
import { guessFrom } from './overhear-guess.ts'
import { OverheardLog } from './overhear-log.ts'
import { proposalText, unclearLines } from './overhear-text.ts'

export const overhearCommand: CommandSpec = {
  name: 'overhear',
  args: '',
  summary:
    'Listen to a broker and propose a register from the contacts that speak; a file that is there is never written over.',
  options: [
    { flags: '--broker <address>', text: 'the broker: mqtt://host' },
    { flags: '--topic <filter>', text: 'what to listen to' },
    { flags: '--minutes <number>', text: 'how long; Ctrl-C ends it earlier', fallback: '60' },
    { flags: '-o, --out <file>', text: 'write the proposal to this file instead of standard output' },
  ],
  examples: ["sashtally overhear --broker mqtt://broker.lan --topic 'house/#' --minutes 30 --out proposal.yaml"],
  run,
}

async function run({ options }: Given, world: World): Promise<Exit> {
  const { broker, topic, out } = options as { broker?: string; topic?: string; out?: string }
  if (broker === undefined || topic === undefined) throw new Stop(EXIT.usage, 'overhear needs --broker and --topic')
  if (!brokerOf(broker))
    throw new Stop(
      EXIT.usage,
      `a broker's address is such as mqtt://broker.lan, with no user or password in it; found ${JSON.stringify(broker.replace(/\/\/.*@/, '//…@'))}`,
    )
  if (!isFilter(topic))
    throw new Stop(
      EXIT.usage,
      `--topic wants a topic filter such as 'house/#': # alone in the last level, + alone in its level; found ${JSON.stringify(topic)}`,
    )
  const minutes = plainNumber(String(options.minutes), '--minutes')
  if (out !== undefined) await refuseTaken(out, world)
  const account = await accountOf(world)
  const log = new OverheardLog()
  await listen(broker, topic, account, minutes, log, world)
  const guess = guessFrom(log.all())
  world.stderr.write(tellCounts(log, guess.proposals.length, guess.unclear.length))
  if (guess.proposals.length === 0) {
    for (const line of unclearLines(guess)) world.stderr.write(`  ${line}\n`)
    throw new Stop(EXIT.input, 'nothing is proposed: open and shut a window while this listens')
  }
  const { timeZone } = new Intl.DateTimeFormat().resolvedOptions()
  const text = proposalText(guess, { broker, timezone: timeZone })
  if (out === undefined) world.stdout.write(text)
  else {
    await writeNew(out, text, world).catch((error: unknown) => {
      // What was listened for so long is not thrown away.
      world.stdout.write(text)
      throw error
    })
    world.stderr.write(`${tame(out)}: written; read it through, then sashtally check ${tame(out)}\n`)
  }
  return EXIT.fine
}

/** Topics that are told of as they are first heard. */
const MOST_TOLD = 200

/** @see MQTT 3.1.1 and 5.0, 4.7.1-2 and 4.7.1-3 */
function isFilter(topic: string): boolean {
  const levels = topic.split('/')
  const fits = (level: string, index: number): boolean =>
    !/[+#]/.test(level) || level === '+' || (level === '#' && index === levels.length - 1)
  return topic !== '' && !topic.includes('\0') && utf8Length(topic) <= TOPIC_BYTES && levels.every(fits)
}

async function listen(
  broker: string,
  topic: string,
  account: Awaited<ReturnType<typeof accountOf>>,
  minutes: number,
  log: OverheardLog,
  world: World,
): Promise<void> {
  let over = false
  const told = new Set<string>()
  const feed = linkTo(broker, account, { retainAsPublished: true })
  await listenLive(
    feed,
    [topic],
    ({ topic: where, payload, retain }) => {
      log.hear(where, payload, retain, world.now())
      if (told.has(where) || told.size >= MOST_TOLD) return
      told.add(where)
      world.stderr.write(`  heard on ${tame(where)}\n`)
    },
    () => log.down(),
    () => log.live(world.now()),
  )
  const asking = askWhatIsKept(linkTo(broker, account), log, () => over, world).catch((error: unknown) => {
    world.stderr.write(
      `Which words the broker keeps cannot be asked (${error instanceof Error ? error.message : error}): with MQTT 3.1.1 little can be told.\n`,
    )
  })
  world.stderr.write(
    `Listening to ${topic} for ${minutes} min: open and shut what you want to have in the register. Ctrl-C ends it.\n`,
  )
  try {
    await waitFor(() => world.signal.aborted, minutes * 60, world)
  } finally {
    over = true
    await asking
    await feed.close()
  }
}

function tellCounts(log: OverheardLog, proposed: number, unclear: number): string {
  const { words, topics, dropped, breaks } = log.counts
  const lines = [`${words} words on ${topics} topics: ${proposed} proposed, ${unclear} not understood`]
  if (breaks)
    lines.push(`the link broke ${breaks === 1 ? 'once' : `${breaks} times`}: what was said meanwhile is missing`)
  if (dropped) lines.push(`${dropped} were left out: listen to fewer topics`)
  return `${lines.join('\n')}\n`
}
