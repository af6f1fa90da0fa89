import type { Entry } from '../../protocol/entry.ts'

/** Columns of the table; `cell` is spread over three. `local` and `name` are for people: an import leaves them out. */
export const COLUMNS = [
  'id',
  'at',
  'until',
  'mark',
  'what',
  'how',
  'sends',
  'boots',
  'text',
  'by',
  'note',
  'cell.type',
  'cell.batch',
  'cell.millivolts',
  'undoes',
  'millivolts',
  'revision',
  'linkLiveSeconds',
  'joinMilliseconds',
  'maybeAgain',
] as const
const NUMBERS: ReadonlySet<string> = new Set([
  'sends',
  'boots',
  'cell.millivolts',
  'millivolts',
  'linkLiveSeconds',
  'joinMilliseconds',
])

/** One field, quoted where it must be; text is also quoted so that an empty one differs from none. RFC 4180, section 2. */
function field(value: unknown): string {
  if (value === undefined) return ''
  if (typeof value === 'number') return String(value)
  const text = String(value)
  return text === '' || /[",\r\n]|^\s|\s$/.test(text) ? `"${text.replaceAll('"', '""')}"` : text
}

/**
 * A spreadsheet runs a cell that begins with one of these as a formula: it gets an apostrophe, which the import takes
 * away again, as it does one that stood there before.
 */
const guard = (text: string): string => (/^[=+\-@\t\r']/.test(text) ? `'${text}` : text)
const unguard = (text: string): string => (text.startsWith("'") ? text.slice(1) : text)

export const csvHead = (): string => `${[...COLUMNS, 'local', 'name'].join(',')}\r\n`

export function csvLine(entry: Entry, local: string, name: string): string {
  const { cell, ...rest } = entry
  const flat: Record<string, unknown> = { ...rest }
  if (cell) for (const [key, value] of Object.entries(cell)) flat[`cell.${key}`] = value
  const values = [...COLUMNS.map(column => flat[column]), local, name]
  return `${values.map(value => field(typeof value === 'string' ? guard(value) : value)).join(',')}\r\n`
}

/** Records of a CSV text with the line on which each begins; a quoted empty field is '', an empty one undefined. */
export function* csvRecords(text: string): IterableIterator<{ line: number; fields: (string | undefined)[] }> {
  let line = 1
  let at = text.startsWith('\ufeff') ? 1 : 0
  while (at < text.length) {
    const begun = line
    const fields: (string | undefined)[] = []
    for (;;) {
      if (text[at] === '"') {
        let value = ''
        for (;;) {
          const end = text.indexOf('"', at + 1)
          if (end === -1) throw new RangeError(`line ${begun}: a quoted field does not end`)
          const part = text.slice(at + 1, end)
          line += part.split('\n').length - 1
          value += part
          at = end + 1
          if (text[at] !== '"') break
          value += '"'
        }
        fields.push(value)
      } else {
        const end = text.slice(at).search(/[,\r\n]/)
        const raw = end === -1 ? text.slice(at) : text.slice(at, at + end)
        fields.push(raw === '' ? undefined : raw)
        at += raw.length
      }
      if (text[at] !== ',') break
      at++
    }
    if (text[at] === '\r') at++
    if (text[at] === '\n') {
      at++
      line++
    } else if (at < text.length) throw new RangeError(`line ${begun}: a quote must enclose a whole field`)
    if (fields.length > 1 || fields[0] !== undefined) yield { line: begun, fields }
  }
}

/** One record as the JSON of an entry, to be checked as any other line is. */
export function entryJson(head: readonly (string | undefined)[], fields: readonly (string | undefined)[]): string {
  const entry: Record<string, unknown> = {}
  const cell: Record<string, unknown> = {}
  head.forEach((column, index) => {
    const raw = fields[index]
    if (column === undefined || raw === undefined || column === 'local' || column === 'name') return
    const value = NUMBERS.has(column) ? Number(raw) : column === 'maybeAgain' ? raw === 'true' : unguard(raw)
    if (column.startsWith('cell.')) cell[column.slice(5)] = value
    else entry[column] = value
  })
  return JSON.stringify(Object.keys(cell).length ? { ...entry, cell } : entry)
}
