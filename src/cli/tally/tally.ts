import { resolve } from 'node:path'
import { leftOf } from '../../house/forecast.ts'
import { policyOf } from '../../house/policy.ts'
import { isKept } from '../../keeper/store/lock.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { read } from '../../ledger/read.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { iso } from '../../text/time.ts'
import { readRegister } from '../files/register.ts'
import { jsonText } from '../json/json-text.ts'
import type { TallyJson } from '../json/tally.ts'
import type { Given } from '../program/command.ts'
import { momentBefore } from '../program/moment.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { openedSince, sinceText } from './opened-since.ts'
import { table } from './tally-table.ts'

export async function run({ args: { file }, options }: Given<typeof commands.tally>, world: World): Promise<Exit> {
  const at = tallyPathOf(options)
  if (!at) throw new Stop(EXIT.usage, 'give --data DIR or --tally FILE')
  const register = await readRegister(file, world)
  const now = world.now()
  const since = options.since && momentBefore(options.since, register.timezone, now)
  if (since !== undefined) {
    const opened = await readTally(at, register, world, tally => openedSince(register, tally, since))
    world.stdout.write(
      options.json ? jsonText({ since: iso(since), opened } satisfies TallyJson) : sinceText(opened, since, register),
    )
    return EXIT.fine
  }
  const ledger = await readTally(at, register, world, tally => tally.ledger())
  const readings = read(ledger, now, policyOf(register), leftOf(register, ledger, now))
  const kept = at.kind === 'file' ? undefined : isKept(resolve(world.cwd, at.path))
  const lastEntry = lastEntryOf(ledger)
  const facts = { ...(kept === undefined ? {} : { keeperAtWork: kept }), ...(lastEntry ? { lastEntry } : {}) }
  world.stdout.write(
    options.json
      ? jsonText({ asOf: iso(now), ...facts, readings } satisfies TallyJson)
      : `${ageLine(at.kind === 'folder', kept, lastEntry, register)}${table(readings, ledger, register)}`,
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
