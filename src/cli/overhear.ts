import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { brokerOf } from '../register/topics.ts'
import { accountOf } from './account.ts'
import { writeWhole } from './files.ts'
import { linkTo } from './house-link.ts'
import { listenLive, waitFor } from './listening.ts'
import { guessFrom, type Overheard, proposalText } from './overhear-guess.ts'
import { plainNumber } from './quantity.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from './world.ts'

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

/** Copies that the broker kept come within this time of the subscription. */
const COPIES_SECONDS = 1
const MOST_HEARD = 200_000

async function run({ options }: Given, world: World): Promise<Exit> {
  const { broker, topic, out } = options as { broker?: string; topic?: string; out?: string }
  if (broker === undefined || topic === undefined) throw new Stop(EXIT.usage, 'overhear needs --broker and --topic')
  if (!brokerOf(broker)) throw new Stop(EXIT.usage, `${broker} is no broker's address, such as mqtt://broker.lan`)
  const minutes = plainNumber(String(options.minutes), '--minutes')
  if (out !== undefined && existsSync(resolve(world.cwd, out)))
    throw new Stop(EXIT.input, `${out} is there already: name another file with --out`)
  const account = await accountOf(world)
  const heard: Overheard[] = []
  const seen = new Set<string>()
  const feed = linkTo(broker, account, { retainAsPublished: true })
  let live = Number.POSITIVE_INFINITY
  await listenLive(feed, [topic], ({ topic: where, payload, retain }) => {
    if (heard.length >= MOST_HEARD) return
    const at = world.now()
    const kept = retain && !seen.has(where) && at - Math.min(live, at) < COPIES_SECONDS * 1000
    seen.add(where)
    heard.push({ topic: where, at, text: new TextDecoder().decode(payload.subarray(0, 2000)), retained: retain, kept })
  })
  live = world.now()
  world.stderr.write(
    `Listening to ${topic} for ${minutes} min: open and shut what you want to have in the register. Ctrl-C ends it.\n`,
  )
  await waitFor(() => world.signal.aborted, minutes * 60, world)
  await feed.close()
  const guess = guessFrom(heard)
  world.stderr.write(
    `${heard.length} words on ${seen.size} topics: ${guess.proposals.length} proposed, ${guess.unclear.length} not understood\n`,
  )
  const text = proposalText(guess, broker)
  if (out === undefined) world.stdout.write(text)
  else await writeWhole(out, text, world)
  return guess.proposals.length > 0 ? EXIT.fine : EXIT.input
}
