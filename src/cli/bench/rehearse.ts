import { cText } from '../../emit/firmware/c-text.ts'
import { privatePasswords } from '../../emit/firmware/private-header.ts'
import { addressesOf, brokerOf } from '../../register/topics.ts'
import type { Opening, Register } from '../../register/types.ts'
import { listed } from '../../text/lists.ts'
import { clockTime } from '../../text/local-time.ts'
import { messageOf } from '../../text/message-of.ts'
import { tame } from '../../text/problems.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import { type ContactOptions, contactFacts } from '../begin/contact.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo } from '../broker/link.ts'
import { keeperIsThere, lostWhy, waitFor } from '../broker/listening.ts'
import { readText } from '../files/read-write.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { mustBeOwnPrivate } from '../register/private-file.ts'
import { EXIT, type Exit, NoTerminal, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { HeardBack } from './heard-back.ts'
import { HouseSigns } from './house-signs.ts'
import { listenHouse } from './listen-house.ts'
import { TestLease } from './on-test.ts'
import { openNode } from './open-node.ts'
import { FAULTS } from './rehearse-faults.ts'
import { type KeptWords, keptOn, SpokenWords, toPutBack } from './rehearse-kept.ts'
import { Player, playedTopic, type Stage } from './rehearse-play.ts'

export async function run(
  { args: { file, mark }, options }: Given<typeof commands.rehearse>,
  world: World,
): Promise<Exit> {
  const { fault, minutes } = options
  const register = await readRegister(file, world)
  const openings = [...new Set(mark.map(each => openingOf(register, each)))]
  if (fault === 'twin-client-id' && openings.length < 2)
    throw new Stop(EXIT.usage, 'twin-client-id needs two contacts: name a second mark')
  const onMains = openings.find(({ sender }) => sender.power === 'mains')
  if (fault === 'dead-cell' && onMains)
    throw new Stop(EXIT.usage, `dead-cell needs contacts on a cell: ${onMains.mark} has none`)
  const say = (line: string): void => world.stdout.write(`${tame(line)}\n`)
  const account = await credentialsOf(world)
  const url = brokerUrlOf(register)
  if (options.private !== undefined) await mustBeOwnPrivate(options.private, register, world)
  const brokers = await contactBrokers(register, openings, options.private, world)
  const signs = new HouseSigns(register)
  const spoken = new SpokenWords()
  const heard = new HeardBack(register, spoken, say, world)
  const feed = linkTo(url, account)
  const { isWide } = await listenHouse(
    feed,
    register,
    {
      heard: message => void (signs.note(message.topic, utf8Text(message.payload, 10_000)) || heard.add(message)),
      down: state => {
        spoken.hasGap = true
        say(lostWhy(state))
      },
      live: () => {},
    },
    world,
  )
  let lease: TestLease | undefined
  try {
    const topics = openings.map(opening => playedTopic(opening, fault))
    const kept = (until: World) => keptOn(linkTo(url, account), topics, until)
    const before = await kept(world)
    say('Your hub hears every word: what it switches when a window opens, it switches now.')
    if (keeperIsThere(signs.keeper, world.now())) {
      lease = await TestLease.begin(
        linkTo(url, account),
        register.tally,
        openings.map(each => each.mark),
        world,
      )
      say(`${listed(openings.map(each => each.mark))}: on test at the keeper, so what is played counts nothing.`)
    } else if (!options.yes && !(await agrees(world))) return EXIT.input
    if (fault) say(`Fault: ${FAULTS[fault]}.`)
    await rehearse(openings, {
      brokers,
      fault,
      minutes,
      lease,
      heard,
      spoken,
      say,
      world,
      register,
      isWide,
      kept,
      before,
    })
    return EXIT.fine
  } finally {
    await lease?.end()
    await feed.close()
  }
}

interface Rehearsal extends Pick<Stage, 'fault'> {
  readonly brokers: ReadonlyMap<Opening, ContactOptions>
  readonly minutes: number
  readonly lease: TestLease | undefined
  readonly heard: HeardBack
  readonly spoken: SpokenWords
  readonly register: Register
  readonly world: World
  /** This account hears words on topics that are no contact's. */
  readonly isWide: boolean
  say(line: string): void
  /** What the broker keeps now where they are played, and what it kept before. */
  kept(world: World): Promise<KeptWords>
  readonly before: KeptWords
}

/** Plays the contacts until the time is up, the person ends it, or the keeper can no longer be told. */
async function rehearse(openings: readonly Opening[], rehearsal: Rehearsal): Promise<void> {
  const { brokers, fault, minutes, lease, heard, spoken, say, world, register, isWide, kept, before } = rehearsal
  const over = new AbortController()
  const twin = fault === 'twin-client-id' ? openings[0]?.client : undefined
  const tell = (mark: string, what: string): void =>
    say(`${clockTime(iso(world.now()), register.timezone)}  ${mark} ${what}`)
  const players = openings.map(
    opening =>
      new Player(
        opening,
        {
          ...{ broker: brokers.get(opening)!, fault, signal: over.signal, tell },
          played: (topic, payload) => spoken.play(topic, payload),
        },
        twin,
      ),
  )
  const doors = openings.filter(({ sender }) => sender.reports === 'both').map(({ mark }) => mark)
  if (doors.length > 0)
    say(`Should this be killed, the broker keeps the last played word of ${listed(doors)} until its contact speaks.`)
  let failed: unknown
  const played = players.map(player =>
    player.play().catch(error => {
      failed ??= error
    }),
  )
  const end = performance.now() + minutes * MINUTE
  while (!world.signal.aborted && failed === undefined && lease?.lost === undefined && performance.now() < end)
    await new Promise(done => setTimeout(done, 25))
  const from = heard.count
  over.abort()
  const wills = players.filter(player => player.end()).length
  await Promise.all(played)
  const still = { ...world, signal: new AbortController().signal }
  // What the broker says now still belongs to the test.
  const isSaid = async (words: number) => {
    if (isWide || fault !== 'wrong-topic') await waitFor(() => heard.count - from >= words, 10, still)
  }
  await isSaid(wills)
  let putBack = 0
  const left: string[] = []
  try {
    const now = await kept(still)
    for (const [index, player] of players.entries()) {
      const opening = openings[index]!
      const topic = playedTopic(opening, fault)
      if (topic === opening.topic && !spoken.isAlone(topic)) left.push(opening.mark)
      const payload = toPutBack(opening, topic, contactFacts(opening).will, { before, now }, spoken)
      if (payload === undefined) continue
      await player.putBack(payload)
      putBack++
    }
  } catch (error) {
    failed ??= error
  }
  await isSaid(wills + putBack)
  if (failed !== undefined) throw notPlayed(failed)
  if (lease?.lost !== undefined) throw new Stop(EXIT.world, `the test could not go on: ${lease.lost}`)
  const restored = openings.flatMap(({ mark }) => (left.includes(mark) ? [] : [mark]))
  const keeps = restored.length > 0 ? ` The broker keeps of ${listed(restored)} what it kept before.` : ''
  say(`The rehearsal is over.${keeps}`)
  if (left.length > 0)
    say(
      `Of ${listed(left)} words came that were not played, or may have: what the broker kept before is not put back. The contact’s next word sets it right.`,
    )
}

function notPlayed(error: unknown): Stop {
  const why = messageOf(error)
  return new Stop(
    EXIT.world,
    `${why}; where the broker asks for passwords, name the private.h that holds them: --private`,
  )
}

/** How each contact gets in: its own account, where a private header holds its password. */
async function contactBrokers(
  { broker }: Register,
  openings: readonly Opening[],
  privateFile: string | undefined,
  world: World,
): Promise<Map<Opening, ContactOptions>> {
  const address = await openNode(addressesOf(broker, 'mqtt').flatMap(node => brokerOf(node) ?? []))
  if (!address)
    throw new Stop(EXIT.input, "the register names no broker for contacts: add broker: { mqtt: 'mqtt://…' }")
  const { host, port, tls } = address
  const marks = openings.map(({ mark }) => mark)
  const literals =
    privateFile === undefined
      ? new Map<string, string>()
      : privatePasswords(await readText(privateFile, world), marks).contacts
  const lacking = privateFile === undefined ? [] : marks.filter(mark => !literals.has(mark))
  if (lacking.length > 0)
    throw new Stop(
      EXIT.input,
      `${privateFile} holds no password of ${listed(lacking)}: emit access --private fills it in`,
    )
  return new Map(
    openings.map(opening => {
      const literal = literals.get(opening.mark)
      const own = literal === undefined ? {} : { user: opening.client, password: cText(literal) }
      return [opening, { host: host.replace(/^\[|\]$/g, ''), port, tls, ...own }]
    }),
  )
}

async function agrees(world: World): Promise<boolean> {
  world.stdout.write(
    'No keeper is live here that could put them on test: walls that count for themselves will show what is played as real openings, and keep it in their tallies.\n',
  )
  try {
    return /^y/i.test((await world.ask('Play all the same? (yes or no) ')).trim())
  } catch (error) {
    if (error instanceof NoTerminal)
      throw new Stop(EXIT.usage, 'without a keeper rehearse asks before it plays: run it at a terminal, or give --yes')
    throw error
  }
}
