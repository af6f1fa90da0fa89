import { resolve } from 'node:path'
import { leftOf } from '../../house/forecast.ts'
import { policyOf } from '../../house/policy.ts'
import { isKept } from '../../keeper/store/lock.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { read } from '../../ledger/read.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { isAtWork } from '../broker/listening.ts'
import { type Published, readPublished } from '../broker/published.ts'
import { readRegister } from '../files/register.ts'
import { jsonText } from '../json/json-text.ts'
import type { TallyJson } from '../json/tally.ts'
import type { Given } from '../program/command.ts'
import { momentBefore } from '../program/moment.ts'
import { readTally } from '../store/read-tally.ts'
import { type TallyPath, tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { openedByStories, openedSince, sinceText } from './opened-since.ts'
import { table } from './tally-table.ts'

/** One answer, for a program and for a person. */
interface ToldTally {
  readonly json: TallyJson
  readonly text: string
}

export async function run({ args: { file }, options }: Given<typeof commands.tally>, world: World): Promise<Exit> {
  const at = tallyPathOf(options)
  const register = await readRegister(file, world)
  const since = options.since && momentBefore(options.since, register.timezone, world.now())
  const told = at
    ? await fromStore(at, register, since, world)
    : fromKeeper(await somePublished(register, since !== undefined, world), register, since, world.now())
  world.stdout.write(options.json ? jsonText(told.json) : told.text)
  return EXIT.fine
}

/** @throws Stop exit 3 where no keeper has published what is asked for, or none of it may be read */
async function somePublished(register: Register, isOfStories: boolean, world: World): Promise<Published> {
  const published = await readPublished(register, await credentialsOf(world), world)
  const { readings, stories, refused } = published
  const lacks = readings.length === 0 ? 'reading' : isOfStories && stories.size === 0 ? 'story' : undefined
  if (lacks === undefined) return published
  const why = refused ?? `no keeper has published a ${lacks} at ${register.tally}, or this account may not read it`
  throw new Stop(
    EXIT.world,
    `${why}. The accounts onlooker, hand and bench may read the tally (emit access), SASHTALLY_USER names one. Beside the keeper: --data DIR`,
  )
}

async function fromStore(
  at: TallyPath,
  register: Register,
  since: number | undefined,
  world: World,
): Promise<ToldTally> {
  if (since !== undefined) {
    const opened = await readTally(at, register, world, tally => openedSince(register, tally, since))
    return { json: { since: iso(since), opened }, text: sinceText(opened, since, register) }
  }
  const now = world.now()
  const ledger = await readTally(at, register, world, tally => tally.ledger())
  const readings = read(ledger, now, policyOf(register), leftOf(register, ledger, now))
  const kept = at.kind === 'file' ? undefined : isKept(resolve(world.cwd, at.path))
  const lastEntry = lastEntryOf(ledger)
  const facts = { ...(kept === undefined ? {} : { keeperAtWork: kept }), ...(lastEntry ? { lastEntry } : {}) }
  const counted =
    ledger.since === undefined ? 'nothing counted yet' : `counted since ${localTime(ledger.since, register.timezone)}`
  const age = ageLine(at.kind === 'folder', kept, lastEntry, register)
  return { json: { asOf: iso(now), ...facts, readings }, text: `${age}${table(readings, counted, register, ledger)}` }
}

/** What the keeper says at the broker, for whoever is not beside it. */
function fromKeeper(published: Published, register: Register, since: number | undefined, now: number): ToldTally {
  const { keeper, readings, refused } = published
  const keeperAtWork = isAtWork(keeper, now)
  // Of a keeper that keeps nothing the beat goes on while its readings stand still.
  const isBroken = keeper?.state === 'broken' || keeper?.problems?.some(({ code }) => code === 'not-kept') === true
  const beats = keeper && !isBroken ? [keeper.beat] : []
  const asOf = [...readings.map(reading => reading.asOf), ...beats].sort().at(-1)!
  const when = localTime(asOf, register.timezone)
  const problem = keeper?.problem
  const facts = {
    ...{ asOf, keeperAtWork },
    ...(problem === undefined ? {} : { problem }),
    ...(refused === undefined ? {} : { refused }),
  }
  const cautions = [
    ...(problem === undefined ? [] : [`The keeper says: ${tame(problem)}.`]),
    ...(refused === undefined ? [] : [`Something may be missing here: ${tame(refused)}.`]),
    ...(keeperAtWork
      ? []
      : [
          `No keeper is at work at this broker: ${isBroken ? 'this was said' : 'the last sign of life is of'} ${when}; what came later is not in it.`,
        ]),
  ].map(line => `${line}\n\n`)
  if (since !== undefined) {
    const { opened, unknown } = openedByStories(register, published, since)
    return {
      json: { since: iso(since), ...facts, unknown, opened },
      text: `${cautions.join('')}${sinceText(opened, since, register, unknown)}`,
    }
  }
  const marks = new Set(readings.map(({ mark }) => mark))
  const unpublished = register.openings.flatMap(({ mark }) => (marks.has(mark) ? [] : [mark]))
  return {
    json: { ...facts, readings: readings.map(({ v, name, ...reading }) => reading), unpublished },
    text: `${cautions.join('')}${table(readings, `as the keeper says, ${when}`, register)}`,
  }
}

function lastEntryOf({ marks }: Ledger): string | undefined {
  const times = Object.values(marks).flatMap(({ window }) => window.at(-1)?.entry.at ?? [])
  return times.sort().at(-1)
}

/** A tally that nobody keeps is not of now. */
function ageLine(isFolder: boolean, kept: boolean | undefined, last: string | undefined, register: Register): string {
  if (kept === true) return ''
  const to = last === undefined ? 'it has no entry' : `its last entry is of ${localTime(last, register.timezone)}`
  const who = !isFolder
    ? 'This is a file'
    : kept === false
      ? 'No keeper is at work on this tally'
      : 'Whether a keeper is at work here cannot be seen'
  return `${who}: ${to}; what came later is not in it.\n\n`
}
