import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { createTwoFilesPatch, formatPatch, type StructuredPatchHunk } from 'diff'
import type { Problem } from '../../text/problem.ts'
import { formatProblem, tame } from '../../text/problems.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'

/** A made text and where it goes. */
export interface Delivery {
  readonly text: string
  /** File to write; standard output when absent. */
  readonly out?: string | undefined
  /** Text the file has now; read from `out` when absent. */
  readonly now?: string
  readonly check: boolean
  /** Said with the state of the file. */
  readonly detail?: string
}

/** What became of a text: printed, or the state of its file. */
export type Delivered = 'printed' | 'up to date' | 'out of date' | 'written'

/**
 * Prints a made text, writes it whole, or compares it with what stands.
 * @throws Stop exit 2 when there is nothing to compare with
 */
export async function deliver(delivery: Delivery, world: World): Promise<Exit> {
  return (await delivered(delivery, world)) === 'out of date' ? EXIT.input : EXIT.fine
}

/** As `deliver`, and tells what became of it. */
export async function delivered({ text, out, now, check, detail }: Delivery, world: World): Promise<Delivered> {
  if (out === undefined) {
    if (check) throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
    world.stdout.write(text)
    return 'printed'
  }
  const old = now ?? (existsSync(resolve(world.cwd, out)) ? await readText(out, world) : undefined)
  const state = old === text ? 'up to date' : check ? 'out of date' : 'written'
  if (state === 'out of date') world.stdout.write(unifiedDiff(out, old, text))
  if (state === 'written') await writeWhole(out, text, world)
  world.stderr.write(`${tame(out)} is ${state}${detail ? `: ${tame(detail)}` : ''}.\n`)
  return state
}

const MOST_EDITS = 5000

function unifiedDiff(path: string, old: string | undefined, text: string): string {
  const heads = [old === undefined ? 'missing' : 'as it is', 'as made from the register'] as const
  const patch = createTwoFilesPatch(path, path, old ?? '', text, ...heads, { maxEditLength: MOST_EDITS })
  return patch ?? wholesaleDiff(path, old ?? '', text, heads)
}

/** One hunk from the first to the last line that differs: finding the least edits would take minutes here. */
function wholesaleDiff(path: string, old: string, text: string, [was, is]: readonly [string, string]): string {
  const [before, after] = [old.split(/(?<=\n)/), text.split(/(?<=\n)/)]
  let start = 0
  while (start < before.length && before[start] === after[start]) start++
  let end = 0
  while (end < Math.min(before.length, after.length) - start && before.at(-1 - end) === after.at(-1 - end)) end++
  const gone = before.slice(start, before.length - end)
  const come = after.slice(start, after.length - end)
  const hunk: StructuredPatchHunk = {
    oldStart: start + 1,
    oldLines: gone.length,
    newStart: start + 1,
    newLines: come.length,
    lines: [...marked('-', gone), ...marked('+', come)],
  }
  return formatPatch({ oldFileName: path, newFileName: path, oldHeader: was, newHeader: is, hunks: [hunk] })
}

const marked = (sign: string, lines: readonly string[]): string[] =>
  lines.flatMap(line =>
    line.endsWith('\n') ? [sign + line.slice(0, -1)] : [sign + line, '\\ No newline at end of file'],
  )

/** Refuses to write over a file that was read for something else. */
export function guardInputs(out: string | undefined, inputs: readonly (string | undefined)[], world: World): void {
  const same = inputs.find(
    input => input !== undefined && out !== undefined && resolve(world.cwd, input) === resolve(world.cwd, out),
  )
  if (same !== undefined) throw new Stop(EXIT.usage, `${same} is read for this; name another file to write`)
}

/** Problems as a person reads them, to standard error. */
export function tellProblems(problems: readonly Problem[], text: string, path: string, world: World): void {
  for (const problem of problems) world.stderr.write(`${formatProblem(problem, text, path)}\n\n`)
}

/** Sentences for the person, to standard error. */
export function tellRemarks(remarks: readonly string[], world: World): void {
  for (const remark of remarks) world.stderr.write(`note: ${tame(remark)}\n`)
}
