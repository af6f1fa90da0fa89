import { resolve } from 'node:path'
import { leftOf } from '../../house/forecast.ts'
import { policyOf } from '../../house/policy.ts'
import { isKept } from '../../keeper/lock.ts'
import { apply, type Ledger, startLedger } from '../../ledger/apply.ts'
import { read } from '../../ledger/read.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { DAY, iso } from '../../text/time.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { momentBefore } from '../program/moment.ts'
import { ledgerOfHistory, openHistory, readEntries, readingStore, tallyPlaceOf } from '../store/history.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { table } from './tally-table.ts'

export async function run({ args: { file }, options }: Given<typeof commands.tally>, world: World): Promise<Exit> {
  const place = tallyPlaceOf(options)
  if (place.tally === undefined && place.data === undefined)
    throw new Stop(EXIT.usage, 'give --data DIR or --tally FILE')
  const register = await readRegister(file, world)
  const now = world.now()
  const since = options.since && momentBefore(options.since, register.timezone, now)
  if (since !== undefined) {
    const opened = openedSince(register, await entriesSince(place, since, register, world), since, now)
    world.stdout.write(options.json ? `${json({ since: iso(since), opened })}\n` : sinceText(opened, since, register))
    return EXIT.fine
  }
  const ledger = await ledgerOfHistory(register, place, world)
  const readings = read(ledger, now, policyOf(register), leftOf(register, ledger, now))
  const kept = place.data === undefined ? undefined : isKept(resolve(world.cwd, place.data))
  const lastEntry = lastEntryOf(ledger)
  const facts = { ...(kept === undefined ? {} : { keeperAtWork: kept }), ...(lastEntry ? { lastEntry } : {}) }
  world.stdout.write(
    options.json
      ? `${json({ asOf: iso(now), ...facts, readings })}\n`
      : `${ageLine(place.data !== undefined, kept, lastEntry, register)}${table(readings, ledger, register)}`,
  )
  return EXIT.fine
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

const json = (value: unknown): string => JSON.stringify(value, undefined, 2)

async function entriesSince(
  place: { tally?: string | undefined; data?: string | undefined },
  since: number,
  register: Register,
  world: World,
): Promise<Entry[]> {
  const isLate = ({ at, until }: Entry): boolean => Date.parse(until ?? at) >= since
  const { data } = place
  if (data === undefined) return (await readEntries(place, world, { register })).filter(isLate)
  const store = await openHistory(data, register, world)
  try {
    // Queued words may have begun before and ended after: a week back is as long as a session waits.
    return await readingStore(data, () => [...store.entries({ sinceMs: since - 31 * DAY })].filter(isLate))
  } finally {
    await store.close()
  }
}

/** One opening that opened, with its first and last time. */
interface Opened {
  readonly mark: string
  readonly name: string
  readonly openings: number
  readonly first: string
  readonly last: string
  /** Some of these waited at the broker: they may have happened earlier than `since`. */
  readonly unsure: boolean
}

/** What opened, most recent first. Bounces and repeats count as they do in the tally. */
export function openedSince(register: Register, entries: readonly Entry[], since: number, now: number): Opened[] {
  const policy = policyOf(register)
  let ledger: Ledger = startLedger(policy, iso(since))
  const times = new Map<string, string[]>()
  const unsure = new Set<string>()
  const marks = new Map(register.openings.flatMap(({ mark, was }) => [mark, ...was].map(each => [each, mark] as const)))
  for (const entry of entries) {
    if (entry.how === 'retained' || entry.what === 'undone') continue
    const mark = marks.get(entry.mark)
    if (mark === undefined) continue
    const before = ledger.marks[mark]?.fold.openings ?? 0
    ledger = apply(ledger, entry)
    if ((ledger.marks[mark]?.fold.openings ?? 0) <= before) continue
    times.set(mark, [...(times.get(mark) ?? []), entry.until ?? entry.at])
    if (entry.how === 'queued' && Date.parse(entry.at) < since) unsure.add(mark)
  }
  return read(ledger, now, policy)
    .filter(({ mark, openings }) => openings > 0 && times.has(mark))
    .map(({ mark, openings }): Opened => {
      const all = times.get(mark)!
      const name = register.openings.find(each => each.mark === mark)?.name ?? mark
      return { mark, name, openings, first: all[0]!, last: all.at(-1)!, unsure: unsure.has(mark) }
    })
    .sort((a, b) => (a.last < b.last ? 1 : -1))
}

function sinceText(opened: readonly Opened[], since: number, { timezone }: Register): string {
  const from = localTime(iso(since), timezone)
  if (opened.length === 0) {
    return `Nothing was heard to open since ${from}. A dead cell says nothing either: see \`sashtally tally\` for what is untested.\n`
  }
  const lines = opened.map(({ mark, name, openings, first, last, unsure }) => {
    const times =
      openings === 1
        ? `at ${localTime(last, timezone)}`
        : `${openings} times, ${localTime(first, timezone)} to ${localTime(last, timezone)}`
    return `${mark.padEnd(6)} ${tame(name)}: opened ${times}${unsure ? ' (it waited at the broker: perhaps earlier)' : ''}`
  })
  return `Opened since ${from}:\n${lines.join('\n')}\n`
}
