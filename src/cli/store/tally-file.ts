import { access, constants, open, readFile } from 'node:fs/promises'
import { dirname, resolve } from 'node:path'
import { type Entry, HOWS, WHATS } from '../../protocol/entry.ts'
import { MARK } from '../../register/types.ts'
import { own } from '../../text/own.ts'
import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import { reason } from '../files/reason.ts'
import { EXIT, Stop, type World } from '../world.ts'

/**
 * A tally file holds one entry a line as JSON, oldest first; each line ends with a line feed. A last line without one
 * was cut off while it was written: a reader leaves it out and a writer takes it away, both saying so.
 */

const LONGEST_LINE = 65_536
const LONGEST_TEXT = 10_000
const TIME = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,9})?Z$/

type Check = (value: unknown) => string | undefined

const text: Check = value =>
  typeof value !== 'string'
    ? 'must be text'
    : value.length > LONGEST_TEXT
      ? `is longer than ${LONGEST_TEXT}`
      : undefined
const time: Check = value => {
  if (typeof value !== 'string' || !TIME.test(value) || Number.isNaN(Date.parse(value)))
    return 'must be a UTC time like "2026-11-25T18:02:00.000Z"'
  // A 30 February is read as 2 March.
  const isReal = new Date(Date.parse(value)).toISOString().slice(0, 19) === value.slice(0, 19)
  return isReal ? undefined : `is no time of the calendar: ${value}`
}
const count: Check = value =>
  Number.isSafeInteger(value) && (value as number) >= 0 ? undefined : 'must be a whole number, 0 or more'
const amount: Check = value =>
  typeof value === 'number' && Number.isFinite(value) && value >= 0 ? undefined : 'must be a number, 0 or more'
const oneOf =
  (list: readonly string[]): Check =>
  value =>
    list.includes(value as string) ? undefined : `must be one of ${list.join(', ')}`
const matching =
  (pattern: RegExp, rule: string): Check =>
  value =>
    typeof value === 'string' && pattern.test(value) ? undefined : rule

const CELL: Readonly<Record<string, Check>> = { type: text, batch: text, millivolts: amount }
const cell: Check = value => {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return 'must be an object with a type'
  if (!('type' in value)) return 'needs a type'
  const wrong = problemsOf(value as Record<string, unknown>, CELL)
  return wrong.length ? `is wrong: ${wrong.join('; ')}` : undefined
}

const FIELDS: Readonly<Record<keyof Entry, Check>> = {
  id: matching(/^\P{Cc}{1,200}$/u, 'must be text of 1 to 200 characters'),
  at: time,
  until: time,
  mark: matching(MARK, 'must be a mark: 1 to 16 letters, digits and hyphens'),
  what: oneOf(WHATS),
  how: oneOf(HOWS),
  sends: count,
  boots: count,
  text,
  by: text,
  note: text,
  cell,
  undoes: text,
  millivolts: amount,
  revision: text,
  linkLiveSeconds: amount,
  joinMilliseconds: amount,
}
const NEEDED = ['id', 'at', 'mark', 'what', 'how'] as const

function problemsOf(value: Readonly<Record<string, unknown>>, fields: Readonly<Record<string, Check>>): string[] {
  return Object.entries(value).flatMap(([key, field]) => {
    const check = own(fields, key)
    if (!check) return [`${tame(key.slice(0, 40))} is no field of an entry`]
    const wrong = check(field)
    return wrong ? [`${key} ${wrong}`] : []
  })
}

/** How far the clock of another machine may be ahead, milliseconds. */
const CLOCKS_DIFFER = 60_000

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
    return { wrong: `not JSON: ${tame(error instanceof Error ? error.message : String(error))}` }
  }
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return { wrong: 'must be a JSON object' }
  const given = value as Record<string, unknown>
  const wrong = [
    ...NEEDED.filter(key => given[key] === undefined).map(key => `${key} is missing`),
    ...problemsOf(given, FIELDS),
  ]
  if (wrong.length) return { wrong: wrong.join('; ') }
  const entry = value as Entry
  const at = Date.parse(entry.at)
  if (entry.until !== undefined && Date.parse(entry.until) < at) return { wrong: 'until must not be before at' }
  if (entry.how === 'said' && at > now + CLOCKS_DIFFER)
    return { wrong: `at lies in the future: ${entry.at}, and the clock here says ${iso(now)}` }
  if (entry.what === 'undone' && entry.undoes === undefined)
    return { wrong: 'undone needs undoes, the id it takes back' }
  return { entry }
}

/**
 * Reads a tally file. An id that stands twice counts once.
 * @param options.mayBeMissing - a file that does not exist yet is an empty tally
 * @throws Stop exit 1 when lines are wrong (all are named on stderr first), exit 3 when the file cannot be read
 */
export async function readTally(
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
    throw new Stop(EXIT.world, `${path} cannot be read: ${reason(error)}`)
  }
  const lines = content.split('\n')
  const torn = lines.pop() ?? ''
  if (torn.trim() !== '') {
    if ('entry' in parseEntry(torn)) lines.push(torn)
    else world.stderr.write(`${path}: the last line was cut off while it was written and is left out\n`)
  }
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
 * taken away first; the file is made if it is not there.
 * @throws Stop exit 3 when it cannot be written; RangeError when an entry could not be read back
 */
export async function appendTally(path: string, entries: readonly Entry[], world: World): Promise<void> {
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
    throw new Stop(EXIT.world, `${path} cannot be written: ${reason(error)}`)
  }
}

/**
 * Makes sure that a file could be written, or made, without touching it.
 * @throws Stop exit 3 with the path when it could not
 */
export async function mustBeWritable(path: string, world: World): Promise<void> {
  const target = resolve(world.cwd, path)
  try {
    await (await open(target, 'r+')).close()
  } catch (error) {
    const why =
      (error as NodeJS.ErrnoException).code === 'ENOENT'
        ? await access(dirname(target), constants.W_OK | constants.X_OK).catch((of: unknown) => of)
        : error
    if (why !== undefined) throw new Stop(EXIT.world, `${path} cannot be written: ${reason(why)}`)
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
  if (rest.length === 0) return ''
  if ('entry' in parseEntry(rest.toString('utf8'))) return '\n'
  await file.truncate(size - rest.length)
  world.stderr.write(`${path}: took away a last line that was cut off: ${tame(rest.toString('utf8', 0, 200))}\n`)
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
