import { resolve } from 'node:path'
import { mendStore } from '../../keeper/mend.ts'
import { iso } from '../../text/time.ts'
import { folderOf } from '../tally/keep.ts'
import { withStoreProblems } from '../tally/keeping.ts'
import { type CommandSpec, EXIT, type Exit, type Given, type World } from '../world.ts'

export const mendCommand: CommandSpec = {
  name: 'mend',
  args: '',
  summary: 'Check the store; where it is damaged, save it as it is and make a sound one from what can be read.',
  options: [{ flags: '--data <dir>', text: "the keeper's folder; the keeper must be stopped" }],
  examples: ['sashtally mend --data /var/lib/sashtally'],
  run,
}

async function run({ options }: Given, world: World): Promise<Exit> {
  const given = folderOf(options)
  const stamp = iso(world.now())
  const { problems, entries, lost, savedAs } = await withStoreProblems(() =>
    mendStore(resolve(world.cwd, given), stamp),
  )
  const say = (text: string): void => world.stdout.write(`${text}\n`)
  if (problems.length === 0) {
    say(`${given}: sound, ${entries} entries`)
    return EXIT.fine
  }
  say(`${given}: damaged`)
  for (const problem of problems.slice(0, 10)) say(`  ${problem}`)
  if (problems.length > 10) say(`  and ${problems.length - 10} more`)
  say(`the damaged file is kept as ${savedAs}`)
  say(`${entries} entries were read and stand in a new store; the next start counts them all again`)
  for (const [first, last] of lost) say(`  lost: ${first === last ? `entry ${first}` : `entries ${first} to ${last}`}`)
  say('entries after the last one cannot be named: compare with your last export or backup')
  return EXIT.input
}
