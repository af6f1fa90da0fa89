import { policyOf } from '../../house/policy.ts'
import { factIn } from '../../keeper/store/facts.ts'
import { openLedger } from '../../keeper/store/rules.ts'
import type { TallyStore } from '../../keeper/store/store.ts'
import { applyAll, type Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import { inputName, readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { STDIN } from '../program/option.ts'
import { writeFolder } from '../store/append-tally.ts'
import { parseEntry, tallyEntries } from '../store/tally-file.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { csvRecords, entryJson } from './csv.ts'

export async function run(
  { args: { file, entries: from }, options }: Given<typeof commands.importing>,
  world: World,
): Promise<Exit> {
  const register = await readRegister(file, world)
  const text = await readInput(from, world)
  const name = inputName(from)
  const isCsv = from === STDIN ? !text.trimStart().startsWith('{') : /\.csv$/i.test(from)
  const entries = isCsv ? readCsv(text, name, world) : tallyEntries(text, name, world)
  const done = await writeFolder(options.data, policyOf(register), world, store => take(store, register, entries))
  const say = (text: string): void => world.stdout.write(`${text}\n`)
  say(`${name}: ${done.taken} of ${entries.length} entries taken; ${done.standing} stood there already`)
  if (done.late > 0)
    say(`${done.late} are older than the last entry that stood there: they count after it, in the order of the file`)
  if (done.strangers.length > 0) {
    say(
      `no opening of the register has the ${done.strangers.length === 1 ? 'mark' : 'marks'} ${done.strangers.slice(0, 20).join(', ')}: kept, and not shown (was: [...] gives an opening its earlier marks)`,
    )
  }
  return EXIT.fine
}

/** Entries are counted once, here: whoever reads the tally next need not count them again. */
function take(store: TallyStore<Ledger>, register: Register, entries: readonly Entry[]) {
  const fresh = store.length === 0 ? entries : entries.filter(({ id }) => !store.find(id))
  const last = store.lastAt()
  if (fresh.length > 0) {
    const counted = applyAll(openLedger(store, policyOf(register), ''), fresh)
    const born = factIn(store, 'born')
    const first = iso(fresh.reduce((least, { at }) => Math.min(least, Date.parse(at)), Number.POSITIVE_INFINITY))
    // What counted from the keeper's first start counts from the first of them now.
    const isOlder = born !== undefined && first < born
    store.commitBatch({
      entries: fresh,
      kept: isOlder ? { ...counted, since: first } : counted,
      snapshot: true,
      facts: isOlder ? { born: first } : {},
    })
  }
  const known = new Set(register.openings.flatMap(({ mark, was }) => [mark, ...was]))
  return {
    taken: fresh.length,
    standing: entries.length - fresh.length,
    late: last === undefined ? 0 : fresh.filter(({ at, how }) => how !== 'said' && Date.parse(at) < last).length,
    strangers: [...new Set(fresh.map(({ mark }) => mark))].filter(mark => !known.has(mark)),
  }
}

function readCsv(text: string, path: string, world: World): Entry[] {
  const entries = new Map<string, Entry>()
  let head: (string | undefined)[] | undefined
  let bad = 0
  try {
    for (const { line, fields } of csvRecords(text)) {
      if (!head) {
        head = fields
        continue
      }
      const read = parseEntry(entryJson(head, fields), world.now())
      if ('wrong' in read) {
        bad++
        world.stderr.write(`${path}:${line}  ${tame(read.wrong)}\n`)
      } else if (!entries.has(read.entry.id)) entries.set(read.entry.id, read.entry)
    }
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    throw new Stop(EXIT.input, `${path}: ${error.message}; nothing was taken`)
  }
  if (bad > 0)
    throw new Stop(EXIT.input, `${path}: ${bad} ${bad === 1 ? 'row is' : 'rows are'} no entry; nothing was taken`)
  return [...entries.values()]
}
