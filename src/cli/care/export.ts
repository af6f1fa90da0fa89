import { access, chmod, constants, open } from 'node:fs/promises'
import { dirname } from 'node:path'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { tame } from '../../text/problems.ts'
import { makeNew } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { readTally, type Tally } from '../store/read-tally.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { csvHead, csvLine } from './csv.ts'

const LINES_AT_ONCE = 2_000

export async function run({ args: { file }, options }: Given<typeof commands.exporting>, world: World): Promise<Exit> {
  const { data: folder, out, backup } = options
  if (options.csv && options.jsonl) throw new Stop(EXIT.usage, 'give --csv or --jsonl, not both')
  const register = await readRegister(file, world)
  await readTally({ kind: 'folder', path: folder }, register, world, async ({ store }) => {
    if (backup !== undefined) return writeBackup(store, backup, world)
    const texts = options.csv ? csvTexts(store.entries(), register) : jsonTexts(store.entries())
    if (out === undefined) return writeAll(texts, world)
    await writeFile(out, texts, world)
    world.stderr.write(`${tame(out)} is written: ${store.length} entries.\n`)
  })
  return EXIT.fine
}

async function writeBackup(store: Tally['store'], path: string, world: World): Promise<void> {
  const copy = async (temporary: string): Promise<void> => {
    await access(dirname(temporary), constants.W_OK | constants.X_OK)
    store.backup(temporary)
    // It tells when nobody is at home.
    await chmod(temporary, 0o640)
  }
  await makeNew(path, world, copy, '--backup')
  world.stdout.write(`${path}: a copy of ${store.length} entries\n`)
}

function* jsonTexts(entries: Iterable<Entry>): IterableIterator<string> {
  for (const entry of entries) yield `${JSON.stringify(entry)}\n`
}

function* csvTexts(entries: Iterable<Entry>, { openings, timezone }: Register): IterableIterator<string> {
  const names = new Map(openings.flatMap(({ mark, was, name }) => [mark, ...was].map(each => [each, name] as const)))
  yield csvHead()
  for (const entry of entries) yield csvLine(entry, localTime(entry.at, timezone), names.get(entry.mark) ?? '')
}

function* joined(texts: Iterable<string>): IterableIterator<string> {
  let some: string[] = []
  for (const text of texts) {
    some.push(text)
    if (some.length < LINES_AT_ONCE) continue
    yield some.join('')
    some = []
  }
  yield some.join('')
}

async function writeAll(texts: Iterable<string>, world: World): Promise<void> {
  for (const text of joined(texts)) {
    world.stdout.write(text)
    await new Promise(done => setImmediate(done))
  }
}

async function writeFile(path: string, texts: Iterable<string>, world: World): Promise<void> {
  await makeNew(path, world, async temporary => {
    const file = await open(temporary, 'wx', 0o640)
    try {
      for (const text of joined(texts)) await file.write(text)
      await file.sync()
    } finally {
      await file.close()
    }
  })
}
