import { earsOf } from '../../house/policy.ts'
import { newId } from '../../keeper/id.ts'
import { hear } from '../../ledger/hear.ts'
import { nextStep, type Round, roundCost, roundEntries, tickRound } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Heard } from '../../protocol/feed.ts'
import type { Register } from '../../register/types.ts'
import { WALK_CAUTION } from '../../text/cautions.ts'
import { clockTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo } from '../broker/link.ts'
import { keeperIsThere, lostWhy } from '../broker/listening.ts'
import { readPublished } from '../broker/published.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { appendTally, tallyToKeep } from '../store/append-tally.ts'
import { readTally, type Tally } from '../store/read-tally.ts'
import { type TallyPath, tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, NoTerminal, Stop, type World } from '../world.ts'
import { mustBeLive, mustReachKeeper, mustReadContacts, NOTHING_HEARD } from './account-trial.ts'
import type * as commands from './commands.ts'
import { HouseSigns } from './house-signs.ts'
import { listenHouse } from './listen-house.ts'
import { sayAll } from './round-keep.ts'
import { type BeforeRound, knownOf, planOf } from './round-plan.ts'
import { stepText, tellReport, wrongWord } from './round-tell.ts'

export async function run({ args: { file }, options }: Given<typeof commands.round>, world: World): Promise<Exit> {
  const { minutes } = options
  const from = tallyPathOf(options)
  const register = await readRegister(file, world)
  const at = await tallyToKeep(from, world)
  const account = await credentialsOf(world)
  const before = from ? await fromTally(from, register, world) : await readPublished(register, account, world)
  const url = brokerUrlOf(register)
  const walk = new Walk(register, planOf(register, before, iso(world.now()), options.leaveOutNatural), world)
  walk.tellCost()
  if (!options.yes && !(await agrees(world))) return EXIT.input

  const feed = linkTo(url, account)
  await listenHouse(feed, register, walk, world)
  const isKeeper = (): boolean => keeperIsThere(walk.signs.keeper, world.now())
  try {
    mustReadContacts(walk.signs)
    if (from && !at) mustBeLive(from.path, walk.signs, world)
    const first = register.openings[0]?.mark
    if (!at && isKeeper() && first !== undefined)
      await mustReachKeeper(linkTo(url, account), register.tally, first, world)
    if (!walk.signs.isHeard) walk.say(`note: ${NOTHING_HEARD}`)
    if (!at && !isKeeper()) walk.say('no keeper is at work, and no --tally was given: this walk will be kept nowhere')
    await walk.go(minutes)
  } finally {
    await feed.close()
  }
  const results = roundEntries(walk.round, iso(world.now()), () => newId(world.now()))
  // What was walked for is shown before anything can go wrong with keeping it.
  const exit = tellReport(walk.round, file, options.json, world)
  if (!walk.signs.isHeard) {
    walk.say('kept nowhere: not one word of the house was heard, so it may be the account and not the contacts')
    return EXIT.input
  }
  if (at) {
    await appendTally(at, [...walk.words, ...results], world)
    walk.say(`kept in ${at.path}`)
  } else if (!isKeeper()) walk.say('kept nowhere: no keeper is at work, and no --tally was given')
  else if (!(await sayAll(results, register, account, world))) return EXIT.input
  else walk.say('kept by the keeper')
  return exit
}

async function fromTally(from: TallyPath, register: Register, world: World): Promise<BeforeRound> {
  const now = world.now()
  const inTally = (tally: Tally): BeforeRound => ({
    ...knownOf(register, tally.ledger(), now),
    lastRoundAt: tally.store.newest({ whats: ['round'] })?.entry.at,
  })
  return readTally(from, register, world, inTally, { mayBeMissing: true })
}

/** A walk that is under way: what was heard so far, and what is told of it. */
class Walk {
  readonly #register: Register
  readonly #ears: ReturnType<typeof earsOf>
  readonly #world: World
  readonly signs: HouseSigns
  readonly words: Entry[] = []
  #round: Round
  #linkMade = 0
  #hasBegun = false

  constructor(register: Register, round: Round, world: World) {
    this.#register = register
    this.#ears = earsOf(register)
    this.#world = world
    this.#round = round
    this.signs = new HouseSigns(register)
  }

  get round(): Round {
    return this.#round
  }

  say(line: string): void {
    this.#world.stderr.write(`${tame(line)}\n`)
  }

  tellCost(): void {
    const { steps } = this.#round
    const left = steps.filter(({ leftOut }) => !leftOut).length
    const cost = roundCost(this.#round)
    const out = left < steps.length ? `, ${steps.length - left} left out` : ''
    this.say(
      `${this.#register.house}: ${left} to open; it costs ${cost} ${cost === 1 ? 'send' : 'sends'} of the cells${out}.`,
    )
    this.say(WALK_CAUTION)
  }

  heard(message: Heard): void {
    const { topic, payload, retain } = message
    const text = utf8Text(payload, 10_000)
    if (this.signs.note(topic, text)) return
    const at = iso(this.#world.now())
    const entry = hear(this.#ears, message, { id: newId(this.#world.now()), at })
    if (retain) return
    const wrong = wrongWord(this.#register, topic, text, entry)
    if (wrong) this.say(`  ${clockTime(at, this.#register.timezone)}  ${wrong}`)
    if (entry?.how !== 'live') return
    this.words.push(entry)
    const before = this.#round
    this.#round = tickRound(before, entry)
    if (this.#round === before) return
    this.say(`  ${clockTime(at, this.#register.timezone)}  ${entry.mark} heard`)
    this.#tellNext()
  }

  down(state: Parameters<typeof lostWhy>[0]): void {
    this.say(`  ${lostWhy(state)}; what is opened now is not heard`)
  }

  live(): void {
    if (this.#linkMade++ > 0) this.say('  the link is there again')
  }

  #tellNext(): void {
    const step = this.#hasBegun ? nextStep(this.#round) : undefined
    if (step) this.say(stepText(step))
  }

  /** Until all were heard, the time is up or the person ends it. */
  async go(minutes: number): Promise<void> {
    this.#hasBegun = true
    this.#tellNext()
    const end = performance.now() + minutes * MINUTE
    let isTimeUp = false
    while (nextStep(this.#round) && !isTimeUp && !this.#world.signal.aborted) {
      await new Promise(done => setTimeout(done, 25))
      isTimeUp = performance.now() >= end
    }
    if (isTimeUp && nextStep(this.#round))
      this.say(`the ${minutes === 1 ? 'minute is' : `${minutes} minutes are`} over; --minutes gives more`)
    // The last rest words still belong to the walk's entries.
    await new Promise(done => setTimeout(done, 200))
  }
}

async function agrees(world: World): Promise<boolean> {
  try {
    return !/^n/i.test((await world.ask('Start? (Enter, or no) ')).trim())
  } catch (error) {
    if (error instanceof NoTerminal)
      throw new Stop(EXIT.usage, 'round asks before it starts: run it at a terminal, or give --yes')
    throw error
  }
}
