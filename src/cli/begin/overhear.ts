import { messageOf } from '../../text/message-of.ts'
import { tame } from '../../text/problems.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { linkTo } from '../broker/link.ts'
import { listenLive, waitFor } from '../broker/listening.ts'
import { refuseTaken, writeNew } from '../files/read-write.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { askWhatIsKept } from './overhear-ask.ts'
import { guessFrom } from './overhear-guess.ts'
import { OverheardLog } from './overhear-log.ts'
import { proposalText, unclearLines } from './overhear-text.ts'

export async function run(
  { options: { broker, topic, minutes, out } }: Given<typeof commands.overhear>,
  world: World,
): Promise<Exit> {
  if (out !== undefined) await refuseTaken(out, world)
  const account = await credentialsOf(world)
  const log = new OverheardLog()
  await listen(broker, topic, account, minutes, log, world)
  const guess = guessFrom(log.all())
  world.stderr.write(tellCounts(log, guess.proposals.length, guess.unclear.length))
  if (guess.proposals.length === 0) {
    for (const line of unclearLines(guess)) world.stderr.write(`  ${line}\n`)
    throw new Stop(
      EXIT.input,
      'nothing is proposed. Next: listen again, and open and shut a window meanwhile; the account direct may read the contacts',
    )
  }
  const { timeZone } = new Intl.DateTimeFormat().resolvedOptions()
  const text = proposalText(guess, { broker, timezone: timeZone })
  if (out === undefined) {
    world.stdout.write(text)
    world.stderr.write(
      'Next: keep it with --out FILE, or save what was printed; read it through, then sashtally check FILE\n',
    )
  } else {
    await writeNew(out, text, world).catch((error: unknown) => {
      // What was listened for so long is not thrown away.
      world.stdout.write(text)
      throw error
    })
    world.stderr.write(
      `${tame(out)}: written. Next: name the openings and add client ids, then sashtally check ${tame(out)}\n`,
    )
  }
  return EXIT.fine
}

/** Topics that are told of as they are first heard. */
const MOST_TOLD = 200

async function listen(
  broker: string,
  topic: string,
  account: Awaited<ReturnType<typeof credentialsOf>>,
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
      `Which words the broker keeps cannot be asked (${messageOf(error)}): with MQTT 3.1.1 little can be told.\n`,
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
