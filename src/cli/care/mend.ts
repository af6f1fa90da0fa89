import { resolve } from 'node:path'
import { mendStore } from '../../keeper/mend.ts'
import { iso } from '../../text/time.ts'
import type { Given } from '../program/command.ts'
import { withStoreProblems } from '../store/problems.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'

export async function run({ options: { data } }: Given<typeof commands.mend>, world: World): Promise<Exit> {
  const stamp = iso(world.now())
  const { problems, entries, lost, savedAs } = await withStoreProblems(() => mendStore(resolve(world.cwd, data), stamp))
  const say = (text: string): void => world.stdout.write(`${text}\n`)
  if (problems.length === 0) {
    say(`${data}: sound, ${entries} entries`)
    return EXIT.fine
  }
  say(`${data}: damaged`)
  for (const problem of problems.slice(0, 10)) say(`  ${problem}`)
  if (problems.length > 10) say(`  and ${problems.length - 10} more`)
  say(`the damaged file is kept as ${savedAs}`)
  say(`${entries} entries were read and stand in a new store; the next start counts them all again`)
  for (const [first, last] of lost) say(`  lost: ${first === last ? `entry ${first}` : `entries ${first} to ${last}`}`)
  say('entries after the last one cannot be named: compare with your last export or backup')
  return EXIT.input
}
