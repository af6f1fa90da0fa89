import { factsOf, policyOf } from '../../house/policy.ts'
import { newId } from '../../keeper/id.ts'
import { judgeSay } from '../../ledger/judge-say.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Say } from '../../protocol/say.ts'
import type { Register } from '../../register/types.ts'
import { CELL_CAUTION, SPENT_CELL_CAUTION } from '../../text/cautions.ts'
import { listed } from '../../text/lists.ts'
import { localTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf, linkTo } from '../broker/link.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { momentBefore } from '../program/moment.ts'
import { appendTally } from '../store/append-tally.ts'
import { readTally, type Tally } from '../store/read-tally.ts'
import { type TallyPath, tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { Sayer, type Saying } from './say-over.ts'

export async function run(
  { args: { file, mark, what }, options }: Given<typeof commands.say>,
  world: World,
): Promise<Exit> {
  const register = await readRegister(file, world)
  const tally = tallyPathOf(options)
  const marks = marksOf(mark, register)
  mustBelong(options, what)
  // Ids of what is said of all share their beginning, so that one command takes all of it back.
  const together = mark === ALL ? newId(world.now()) : undefined
  const sayings = marks.map(each => ({
    mark: each,
    saying: {
      ...sayingOf(each, what, options, register, world),
      ...(together === undefined ? {} : { id: idAmong(together, each) }),
      ...(together !== undefined && options.undoes !== undefined ? { undoes: idAmong(options.undoes, each) } : {}),
    },
  }))
  let refused = 0
  let kept = 0
  const at = sayings[0]?.saying.at
  // `Fri 09:00` is a guess at a day: the person is told which.
  const when = at === undefined ? '' : ` ${localTime(at, register.timezone)}`
  const takenBack = (of: string, id: string): string =>
    what === 'undone' ? '' : `; taken back with: sashtally say ${file} ${of} undone --undoes ${id}`
  const tell = ({ mark: of, id, problem }: Answer): void => {
    if (problem !== undefined) {
      refused++
      world.stderr.write(`${of} ${what}: refused: ${tame(problem)}\n`)
    } else {
      kept++
      world.stdout.write(`${of} ${what}${when}: kept${takenBack(of, id)}\n`)
    }
  }
  try {
    if (tally) for (const answer of await sayToTally(sayings, tally, register, world)) tell(answer)
    else await sayToKeeper(sayings, register, tell, world)
  } finally {
    // Also where the keeper ended half way: what was kept stands kept.
    if (together !== undefined && kept > 1 && what !== 'undone')
      world.stdout.write(`All of it at once:${takenBack(ALL, together).slice(1)}\n`)
  }
  if (what === 'cell-fitted' && refused < sayings.length) world.stderr.write(`${CELL_CAUTION}\n${SPENT_CELL_CAUTION}\n`)
  return refused > 0 ? EXIT.input : EXIT.fine
}

/** Says it of every opening. */
const ALL = 'all'
/** At most 36 characters: an id has 18 at most, a mark 16. */
const idAmong = (together: string, mark: string): string => `${together}-${mark}`

/** A test that is told no end, minutes. */
const TEST_MINUTES = 10

/** Options that would say nothing beside anything else. */
const BELONGS: Partial<Readonly<Record<keyof Options, readonly Say['what'][]>>> = {
  cell: ['cell-fitted'],
  batch: ['cell-fitted'],
  millivolts: ['cell-fitted'],
  revision: ['flashed'],
  undoes: ['undone'],
  minutes: ['on-test'],
}

type Options = Given<typeof commands.say>['options']

interface Answer {
  readonly mark: string
  readonly id: string
  readonly problem?: string
}

/** @throws Stop exit 2 for an option that says nothing beside `what` */
function mustBelong(options: Options, what: Say['what']): void {
  const wrong = Object.entries(BELONGS).flatMap(([name, whats]) =>
    options[name as keyof Options] === undefined || whats.includes(what)
      ? []
      : [`--${name} belongs to ${listed(whats)}, not to ${what}: leave it out`],
  )
  if (wrong.length > 0) throw new Stop(EXIT.usage, wrong.join('\nsashtally: '))
}

function marksOf(given: string, register: Register): string[] {
  return given === ALL ? register.openings.map(({ mark }) => mark) : [openingOf(register, given).mark]
}

function sayingOf(mark: string, what: Say['what'], options: Options, register: Register, world: World): Saying {
  const opening = register.openings.find(each => each.mark === mark)
  const { by, note, batch, millivolts, undoes } = options
  const at = timeOf(options.at, register.timezone, world.now())
  const type = options.cell ?? opening?.sender.cell
  const cell =
    what === 'cell-fitted' && type !== undefined
      ? {
          type,
          ...(batch === undefined ? {} : { batch }),
          ...(millivolts === undefined ? {} : { millivolts }),
        }
      : undefined
  const revision = options.revision ?? (what === 'flashed' ? opening?.revision : undefined)
  const until = what === 'on-test' ? iso(world.now() + (options.minutes ?? TEST_MINUTES) * MINUTE) : undefined
  const some = { at, by, note, cell, undoes, revision, until }
  return { what, ...Object.fromEntries(Object.entries(some).filter(([, value]) => value !== undefined)) }
}

/** @throws Stop exit 2 for a time that is still to come */
function timeOf(given: Options['at'], timeZone: string, now: number): string | undefined {
  if (given === undefined) return undefined
  const at = momentBefore(given, timeZone, now)
  if (at > now) throw new Stop(EXIT.usage, `--at lies in the future: ${iso(at)}`)
  return iso(at)
}

/** Each answer is told as it comes: what was kept stands kept, whatever comes after. */
async function sayToKeeper(
  sayings: readonly { mark: string; saying: Saying }[],
  register: Register,
  tell: (answer: Answer) => void,
  world: World,
): Promise<void> {
  const sayer = new Sayer(
    linkTo(brokerUrlOf(register), await credentialsOf(world), { now: world.now }),
    register.tally,
    world,
  )
  sayer.open()
  try {
    for (const [index, { mark, saying }] of sayings.entries()) {
      try {
        const { ok, id, problem } = await sayer.say(mark, saying)
        tell({ mark, id, ...(ok ? {} : { problem: problem ?? 'no reason was given' }) })
      } catch (error) {
        if (sayings.length === 1 || !(error instanceof Stop)) throw error
        const rest = sayings.slice(index).map(each => each.mark)
        throw new Stop(error.exit, `${error.message}\nsashtally: not said, or not answered: ${rest.join(', ')}`)
      }
    }
  } finally {
    await sayer.close()
  }
}

/** Judges as the keeper does, and adds what is fine. */
async function sayToTally(
  sayings: readonly { mark: string; saying: Saying }[],
  tally: TallyPath,
  register: Register,
  world: World,
): Promise<Answer[]> {
  const now = world.now()
  const came = { retain: false, queued: false, at: iso(now) }
  const fresh: Entry[] = []
  const judge = ({ ledger, store }: Tally): Answer[] => {
    const context = {
      ledger: ledger(),
      policy: policyOf(register),
      now,
      find: (id: string) => store.find(id),
      factsOf: factsOf(register),
    }
    return sayings.map(({ mark, saying }): Answer => {
      const id = saying.id ?? newId(now)
      const judged = judgeSay(JSON.stringify({ v: 1, ...saying, id }), mark, came, context)
      if ('entry' in judged) fresh.push(judged.entry)
      return { mark, id, ...('problem' in judged ? { problem: judged.problem } : {}) }
    })
  }
  const answers = await readTally(tally, register, world, judge, { mayBeMissing: true })
  await appendTally(tally, fresh, world)
  return answers
}
