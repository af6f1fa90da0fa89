import { appendFile, open, readFile } from 'node:fs/promises'
import { dirname, resolve } from 'node:path'
import { type Entry, entrySchema, isWholeEntry } from '../../protocol/entry.ts'
import { checked } from '../../protocol/problems.ts'
import { fileReason } from '../../text/file-reason.ts'
import { messageOf } from '../../text/message-of.ts'
import { tame } from '../../text/problems.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { EXIT, Stop, type World } from '../world.ts'

/**
 * A tally file is the way in and out: one entry a line as JSON, oldest first; each line ends with a line feed. A last
 * line without one was cut off while it was written: a reader leaves it out, a writer moves it to a file beside, both
 * saying so.
 */

const LONGEST_LINE = 65_536
/** How far the clock of another machine may be ahead, milliseconds. */
const CLOCKS_DIFFER = MINUTE

/**
 * One line of a tally file as an entry, or what is wrong with it.
 * @param now - milliseconds since the epoch: what a person said of a later time is refused; absent: any time will do
 */
export function parseEntry(
  line: string,
  now = Number.POSITIVE_INFINITY,
): { readonly entry: Entry } | { readonly wrong: string } {
  if (line.length > LONGEST_LINE) return { wrong: `the line is longer than ${LONGEST_LINE} characters` }
  let value: unknown
  try {
    value = JSON.parse(line)
  } catch (error) {
    return { wrong: `not JSON: ${tame(messageOf(error))}` }
  }
  const result = isWholeEntry(value) ? { value } : checked(entrySchema, value, 'an entry')
  if ('problems' in result) return { wrong: result.problems.join('; ') }
  const entry = result.value
  if (entry.how === 'said' && Date.parse(entry.at) > now + CLOCKS_DIFFER)
    return { wrong: `at lies in the future: ${entry.at}, and the clock here says ${iso(now)}` }
  return { entry }
}

/** What stands behind the last line feed of a tally: a line whose line feed alone is missing, one that was cut off, or none. */
const endOf = (rest: string): 'entry' | 'cut off' | 'none' =>
  rest.trim() === '' ? 'none' : 'entry' in parseEntry(rest) ? 'entry' : 'cut off'

/**
 * Reads a tally file.
 * @param options.mayBeMissing - a file that does not exist yet is an empty tally
 * @throws Stop exit 1 when lines are wrong (all are named on stderr first), exit 3 when the file cannot be read
 */
export async function readTallyFile(
  path: string,
  world: World,
  options: { mayBeMissing?: boolean } = {},
): Promise<Entry[]> {
  let content: string
  try {
    content = new TextDecoder('utf-8', { fatal: true }).decode(await readFile(resolve(world.cwd, path)))
  } catch (error) {
    if (options.mayBeMissing && (error as NodeJS.ErrnoException).code === 'ENOENT') return []
    if (error instanceof TypeError) throw new Stop(EXIT.input, `${path} is not UTF-8 text: it is no tally`)
    throw new Stop(EXIT.world, `${path} cannot be read: ${fileReason(error)}`)
  }
  return tallyEntries(content, path, world)
}

/**
 * The entries of a tally file's text. An id that stands twice counts once.
 * @param path - as a sentence names it
 * @throws Stop exit 1 when lines are wrong (all are named on stderr first)
 */
export function tallyEntries(content: string, path: string, world: World): Entry[] {
  const lines = content.split('\n')
  const rest = lines.pop() ?? ''
  const end = endOf(rest)
  if (end === 'entry') lines.push(rest)
  if (end === 'cut off') world.stderr.write(`${path}: the last line was cut off while it was written and is left out\n`)
  const entries = new Map<string, Entry>()
  let bad = 0
  lines.forEach((line, index) => {
    if (line.trim() === '') return
    const read = parseEntry(line, world.now())
    if ('wrong' in read) {
      bad++
      world.stderr.write(`${path}:${index + 1}  ${read.wrong}\n`)
    } else if (!entries.has(read.entry.id)) entries.set(read.entry.id, read.entry)
  })
  if (bad)
    throw new Stop(
      EXIT.input,
      `${path}: ${bad} ${bad === 1 ? 'line is' : 'lines are'} no entry; mend or remove ${bad === 1 ? 'it' : 'them'}`,
    )
  return [...entries.values()]
}

/**
 * Appends entries as whole lines, in one write, and flushes them to the disk. A last line that a crash cut off is
 * moved to a file beside first; the file is made if it is not there.
 * @throws Stop exit 3 when it cannot be written; RangeError when an entry could not be read back
 */
export async function appendTallyFile(path: string, entries: readonly Entry[], world: World): Promise<void> {
  if (entries.length === 0) return
  const lines = entries.map(entry => {
    const line = JSON.stringify(entry)
    const read = parseEntry(line, world.now())
    if ('wrong' in read) throw new RangeError(`entry ${entry.id}: ${read.wrong}`)
    return `${line}\n`
  })
  const target = resolve(world.cwd, path)
  try {
    const file = await open(target, 'a+', 0o644)
    try {
      const fresh = (await file.stat()).size === 0
      const before = await healTail(file, path, world)
      await file.appendFile(before + lines.join(''))
      await file.sync()
      if (fresh) await syncFolder(dirname(target))
    } finally {
      await file.close()
    }
  } catch (error) {
    if (error instanceof Stop) throw error
    throw new Stop(EXIT.world, `${path} cannot be written: ${fileReason(error)}`)
  }
}

/** What must be written before the next line: nothing, or the line feed that a whole last line lacks. */
async function healTail(file: Awaited<ReturnType<typeof open>>, path: string, world: World): Promise<string> {
  const { size } = await file.stat()
  const length = Math.min(size, 4 * LONGEST_LINE)
  const tail = Buffer.alloc(length)
  await file.read(tail, 0, length, size - length)
  const end = tail.lastIndexOf(0x0a)
  const rest = tail.subarray(end + 1)
  const whole = tail
    .toString('utf8', 0, Math.max(0, end))
    .split('\n')
    .findLast(line => line.trim() !== '')
  // A file that holds something else must not lose its last line, nor gain one.
  const isTally =
    whole === undefined ? size <= LONGEST_LINE && (rest.length === 0 || rest[0] === 0x7b) : 'entry' in parseEntry(whole)
  if (!isTally) throw new Stop(EXIT.input, `${path} does not end in an entry: it is no tally, nothing was written`)
  const last = endOf(rest.toString('utf8'))
  if (last !== 'cut off') return last === 'entry' ? '\n' : ''
  // It was never told to be kept, and may hold what a person can still read.
  const beside = `${path}.cut-off`
  await appendFile(resolve(world.cwd, beside), `${rest}\n`, { flush: true })
  await file.truncate(size - rest.length)
  world.stderr.write(`${path}: its last line was cut off while it was written, and stands in ${beside} now\n`)
  return ''
}

async function syncFolder(path: string): Promise<void> {
  const folder = await open(path, 'r')
  try {
    await folder.sync()
  } finally {
    await folder.close()
  }
}
