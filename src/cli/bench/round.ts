import { earsOf, policyOf } from '../../house/policy.ts'
import { newId } from '../../keeper/id.ts'
import { applyAll, startLedger } from '../../ledger/apply.ts'
import { hear } from '../../ledger/hear.ts'
import { read } from '../../ledger/read.ts'
import {
  nextStep,
  planRound,
  type Round,
  reportRound,
  roundCost,
  roundEntries,
  type Step,
  tickRound,
} from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import { clockTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import { type Credentials, credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo } from '../broker/link.ts'
import { keeperIsThere, listenLive, lostWhy, settled } from '../broker/listening.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { appendEntries, mustBeAppendable, readEntries, tallyPlaceOf } from '../store/history.ts'
import { Sayer } from '../tally/say-over.ts'
import { EXIT, type Exit, NoTerminal, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'

export async function run({ args: { file }, options }: Given<typeof commands.round>, world: World): Promise<Exit> {
  const { minutes } = options
  const place = tallyPlaceOf(options)
  const register = await readRegister(file, world)
  const history = await readEntries(place, world, { register, mayBeMissing: true })
  await mustBeAppendable(place, world)
  const account = await credentialsOf(world)
  const started = iso(world.now())
  let round = planOf(register, history, started, options.leaveOutNatural)
  const say = (line: string): void => world.stderr.write(`${tame(line)}\n`)
  const left = round.steps.filter(({ leftOut }) => !leftOut).length
  const cost = roundCost(round)
  say(
    `${register.house}: ${left} to open; it costs ${cost} ${cost === 1 ? 'send' : 'sends'} of the cells${left < round.steps.length ? `, ${round.steps.length - left} left out` : ''}.`,
  )
  if (!options.yes && !(await agrees(world))) return EXIT.input

  const ears = earsOf(register)
  const words: Entry[] = []
  const keeperTopic = tallyTopics(register.tally).keeper
  let keeper: string | undefined
  let refused: string | undefined
  let linkMade = 0
  const feed = linkTo(brokerUrlOf(register), account)
  const told = (step: Step | undefined): void => {
    if (step) say(`next: ${step.mark}  ${step.name}${step.at ? `, ${step.at.side}, floor ${step.at.floor}` : ''}`)
  }
  await listenLive(
    feed,
    [...register.openings.map(({ topic }) => topic), keeperTopic],
    message => {
      if (message.topic === keeperTopic) keeper = utf8Text(message.payload, 10_000)
      const entry = hear(ears, message, { id: newId(world.now()), at: iso(world.now()) })
      if (entry?.how !== 'live') return
      words.push(entry)
      const before = round
      round = tickRound(round, entry)
      if (round === before) return
      say(`  ${clockTime(entry.at, register.timezone)}  ${entry.mark} heard`)
      told(nextStep(round))
    },
    state => {
      if (state.state === 'refused') refused = lostWhy(state)
      say(`  ${lostWhy(state)}; what is opened now is not heard`)
    },
    () => {
      if (linkMade++ > 0) say('  the link is there again')
    },
  )
  await settled(() => refused !== undefined, world)
  if (refused !== undefined) {
    await feed.close()
    throw new Stop(EXIT.world, refused)
  }
  const isFile = place.tally !== undefined || place.data !== undefined
  const isKeeper = (): boolean => keeperIsThere(keeper, world.now())
  if (!isFile && !isKeeper()) say('no keeper runs, and no --tally was given: this walk will be kept nowhere')
  told(nextStep(round))
  let timeIsUp = false
  const end = performance.now() + minutes * MINUTE
  while (nextStep(round) && !timeIsUp && !world.signal.aborted) {
    await new Promise(done => setTimeout(done, 25))
    timeIsUp = performance.now() >= end
  }
  if (timeIsUp && nextStep(round)) say(`the ${minutes} minutes are over; --minutes gives more`)
  // The last rest words still belong to the walk's entries.
  await new Promise(done => setTimeout(done, 200))
  await feed.close()
  const results = roundEntries(round, iso(world.now()), () => newId(world.now()))
  // What was walked for is shown before anything can go wrong with keeping it.
  const exit = report(round, options.json, world)
  if (isFile) {
    await appendEntries(place, [...words, ...results], world)
    say(`kept in ${place.tally ?? place.data}`)
  } else if (!isKeeper()) say('kept nowhere: no keeper runs, and no --tally was given')
  else if (!(await sayAll(results, register, account, world))) return EXIT.input
  else say('kept by the keeper')
  return exit
}

/**
 * The report to the keeper, which has heard the words itself.
 * @returns whether it took all
 * @throws Stop exit 3 when it does not answer
 */
async function sayAll(
  results: readonly Entry[],
  register: Register,
  account: Credentials,
  world: World,
): Promise<boolean> {
  const sayer = new Sayer(linkTo(brokerUrlOf(register), account), register.tally, world)
  sayer.open()
  let kept = 0
  try {
    for (const { mark, text = '' } of results) {
      const { ok, problem } = await sayer.say(mark, { what: 'round', note: text })
      if (ok) kept++
      else world.stderr.write(`${mark}: not kept, the keeper says: ${tame(problem ?? '')}\n`)
    }
    return kept === results.length
  } catch (error) {
    if (error instanceof Stop) world.stderr.write(`kept for ${kept} of ${results.length} openings only\n`)
    throw error
  } finally {
    await sayer.close()
  }
}

/** The walk of a register, knowing what the tally knows. */
export function planOf(
  register: Register,
  history: readonly Entry[],
  startedAt: string,
  leaveOutNatural: boolean,
): Round {
  const readings = read(applyAll(startLedger(policyOf(register)), history), Date.parse(startedAt))
  const last = history.findLast(({ what }) => what === 'round')?.at
  return planRound({
    stops: register.openings.map(({ mark, name, room, at, sender }) => ({
      mark,
      name,
      power: sender.power,
      ...(room === undefined ? {} : { room }),
      ...(at === undefined ? {} : { at }),
    })),
    sides: register.sides,
    startedAt,
    ...(last === undefined ? {} : { lastRoundAt: last }),
    provenAt: Object.fromEntries(readings.map(({ mark, provenAt }) => [mark, provenAt])),
    leaveOutNatural,
  })
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

function report(round: Round, json: boolean, world: World): Exit {
  const { heard, leftOut, missing, notReached, done } = reportRound(round)
  if (json)
    world.stdout.write(
      `${JSON.stringify({ startedAt: round.startedAt, done, heard, leftOut, missing, notReached }, null, 2)}\n`,
    )
  else {
    const list = (steps: readonly Step[]): string =>
      steps.map(({ mark, name }) => `  ${mark}  ${tame(name)}\n`).join('')
    world.stdout.write(`heard ${heard.length}, left out ${leftOut.length}, not heard ${missing.length}\n`)
    const passedBy = missing.filter(step => !notReached.includes(step))
    if (passedBy.length)
      world.stdout.write(`Passed by and not heard; look at their cells, reeds and magnets:\n${list(passedBy)}`)
    if (notReached.length)
      world.stdout.write(
        `Not heard before the walk ended; if you did open one of them, look at it too:\n${list(notReached)}`,
      )
  }
  return done ? EXIT.fine : EXIT.input
}
