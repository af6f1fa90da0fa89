import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { createTwoFilesPatch } from 'diff'
import { formatProblem, tame } from '../register/problems.ts'
import type { Problem } from '../register/types.ts'
import { readText, writeWhole } from './files.ts'
import { EXIT, type Exit, type OptionSpec, Stop, type World } from './world.ts'

export const DELIVERY_OPTIONS: readonly OptionSpec[] = [
  { flags: '-o, --out <file>', text: 'write to this file instead of standard output' },
  { flags: '--check', text: 'write nothing; print a unified diff and exit 1 when the file is out of date' },
]

/** A made text and where it goes. */
export interface Delivery {
  readonly text: string
  /** File to write; standard output when absent. */
  readonly out?: string | undefined
  /** Text the file has now; read from `out` when absent. */
  readonly now?: string
  readonly check: boolean
}

/**
 * Prints a made text, writes it whole, or compares it with what stands.
 * @throws Stop exit 2 when there is nothing to compare with
 */
export async function deliver({ text, out, now, check }: Delivery, world: World): Promise<Exit> {
  if (out === undefined) {
    if (check) throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
    world.stdout.write(text)
    return EXIT.fine
  }
  const old = now ?? (existsSync(resolve(world.cwd, out)) ? await readText(out, world) : undefined)
  if (old === text) {
    world.stderr.write(`${tame(out)} is up to date.\n`)
    return EXIT.fine
  }
  if (check) {
    world.stdout.write(
      createTwoFilesPatch(
        out,
        out,
        old ?? '',
        text,
        old === undefined ? 'missing' : 'as it is',
        'as made from the register',
      ),
    )
    world.stderr.write(`${tame(out)} is out of date.\n`)
    return EXIT.input
  }
  await writeWhole(out, text, world)
  world.stderr.write(`${tame(out)} is written.\n`)
  return EXIT.fine
}

/** Problems as a person reads them, to standard error. */
export function tellProblems(problems: readonly Problem[], text: string, path: string, world: World): void {
  for (const problem of problems) world.stderr.write(`${formatProblem(problem, text, path)}\n\n`)
}

/** Sentences for the person, to standard error. */
export function tellRemarks(remarks: readonly string[], world: World): void {
  for (const remark of remarks) world.stderr.write(`note: ${tame(remark)}\n`)
}
