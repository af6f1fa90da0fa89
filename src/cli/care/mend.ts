import { resolve } from 'node:path'
import { mendStore } from '../../keeper/repair/mend.ts'
import { iso } from '../../text/time.ts'
import type { Given } from '../program/command.ts'
import { withStoreProblems } from '../store/problems.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'

export async function run({ options: { data, backups } }: Given<typeof commands.mend>, world: World): Promise<Exit> {
  const stamp = iso(world.now())
  const from = backups === undefined ? undefined : resolve(world.cwd, backups)
  const mended = await withStoreProblems(() => mendStore(resolve(world.cwd, data), stamp, from))
  const { problems, entries, lost, answered, doubtful, savedAs, backup } = mended
  const say = (text: string): void => world.stdout.write(`${text}\n`)
  if (problems.length === 0) {
    say(`${data}: sound, ${entries} entries`)
    return EXIT.fine
  }
  const isNew = savedAs === undefined
  say(isNew ? `${data}: a tally is begun from the backup` : `${data}: damaged`)
  if (!isNew) for (const problem of problems.slice(0, 10)) say(`  ${problem}`)
  if (problems.length > 10) say(`  and ${problems.length - 10} more`)
  if (!isNew) say(`the damaged file is kept as ${savedAs}`)
  if (backup) say(`${backup.entries} entries come from the backup ${backup.path}`)
  say(`${entries} entries were read and stand in a new store; the next start counts them all again`)
  for (const [first, last] of lost) say(`  lost: ${first === last ? `entry ${first}` : `entries ${first} to ${last}`}`)
  if (doubtful.length > 0) {
    say(`  kept, but perhaps not as they were (by their old numbers): ${listOf(doubtful)}`)
  }
  if (isNew) {
    say('what was kept after that backup is not here')
    return EXIT.fine
  }
  const end = answered === undefined ? 'the last one' : `entry ${answered}, if there were any,`
  say(`entries after ${end} cannot be named: compare with your last export or backup`)
  return EXIT.input
}

/** Runs of numbers: `4, 17 to 19`. */
function listOf(numbers: readonly number[]): string {
  const runs: [number, number][] = []
  for (const n of numbers) {
    const run = runs.at(-1)
    if (run && run[1] === n - 1) run[1] = n
    else runs.push([n, n])
  }
  return runs.map(([first, last]) => (first === last ? String(first) : `${first} to ${last}`)).join(', ')
}
