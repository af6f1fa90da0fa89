import type { CommandGroup, Definition, Given } from '../program/command.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { bash } from './completion-bash.ts'
import { fish } from './completion-fish.ts'
import { zsh } from './completion-zsh.ts'

const COMPLETIONS: Readonly<Record<(typeof commands.SHELLS)[number], (commands: readonly Definition[]) => string>> = {
  bash,
  zsh,
  fish,
}

export async function run(
  { args: { shell } }: Given<typeof commands.completion>,
  world: World,
  groups: readonly CommandGroup[],
): Promise<Exit> {
  world.stdout.write(COMPLETIONS[shell](groups.flatMap(({ commands }) => commands)))
  return EXIT.fine
}
