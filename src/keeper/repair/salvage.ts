/**
 * Entries read straight from the pages of a damaged file, without trusting its trees.
 * @see the database file format, sqlite.org/fileformat2.html: sections 1.6 (pages), 2.1 (records), 4.1 (log)
 */
import { existsSync, readFileSync } from 'node:fs'
import type { Entry } from '../../protocol/entry.ts'
import { type EntryRow, readable, strictText } from '../store/rows.ts'
import { FIRST_SUM, sumOfRow } from '../store/sums.ts'

const TABLE_LEAF = 0x0d
const PAGE_SIZES = new Set([512, 1024, 2048, 4096, 8192, 16384, 32768])

interface Cursor {
  at: number
}

/** Big-endian variable-length integer of one to nine bytes; NaN at the end of the bytes or above 2^53. */
function varint(bytes: Buffer, cursor: Cursor): number {
  let value = 0
  for (let n = 0; n < 9; n++) {
    const byte = bytes[cursor.at++]
    if (byte === undefined) return Number.NaN
    value = n === 8 ? value * 256 + byte : value * 128 + (byte & 0x7f)
    if (n === 8 || byte < 0x80) return value <= Number.MAX_SAFE_INTEGER ? value : Number.NaN
  }
  return Number.NaN
}

/** Pages by number, those of the log over those of the file. */
function pagesOf(path: string): { pages: Map<number, Buffer>; size: number } {
  const file = readFileSync(path)
  const said = file.length >= 18 ? file.readUInt16BE(16) : 0
  const size = PAGE_SIZES.has(said) ? said : 4096
  const pages = new Map<number, Buffer>()
  for (let n = 0; (n + 1) * size <= file.length; n++) pages.set(n + 1, file.subarray(n * size, (n + 1) * size))
  const log = existsSync(`${path}-wal`) ? readFileSync(`${path}-wal`) : Buffer.alloc(0)
  let waiting = new Map<number, Buffer>()
  for (let at = 32; at + 24 + size <= log.length; at += 24 + size) {
    if (log.compare(log, 16, 24, at + 8, at + 16) !== 0) break
    waiting.set(log.readUInt32BE(at), log.subarray(at + 24, at + 24 + size))
    if (log.readUInt32BE(at + 4) === 0) continue
    for (const [number, page] of waiting) pages.set(number, page)
    waiting = new Map()
  }
  return { pages, size }
}

/** An entry that could be read; the sum that it carried, where it was of a version that has them. */
export interface Salvaged {
  readonly seq: number
  readonly entry: Entry
  /** The row as it was read, without its number. */
  readonly row: Omit<EntryRow, 'seq'>
  readonly sum?: string
}

/** Every readable entry with its number, in order, each number and each id once. */
export function salvage(path: string): Salvaged[] {
  const { pages, size } = pagesOf(path)
  const found = new Map<number, Salvaged>()
  const ids = new Set<string>()
  for (const [number, page] of pages) {
    const start = number === 1 ? 100 : 0
    if (page[start] !== TABLE_LEAF) continue
    const count = page.readUInt16BE(start + 3)
    for (let n = 0; n < count && start + 10 + 2 * n <= size; n++) {
      const at = page.readUInt16BE(start + 8 + 2 * n)
      const cell = at < size ? cellAt(page, at, size, pages) : undefined
      if (!cell || found.has(cell.seq) || ids.has(cell.entry.id)) continue
      found.set(cell.seq, cell)
      ids.add(cell.entry.id)
    }
  }
  return [...found.values()].sort((a, b) => a.seq - b.seq)
}

/**
 * Numbers of those that are not known to be what was committed: the sum does not fit, or the entry before is not there to
 * tell. None where no entry carries a sum.
 */
export function unvouched(entries: readonly Salvaged[]): number[] {
  let before: Salvaged | undefined
  const doubtful: number[] = []
  for (const each of entries) {
    const sumBefore = each.seq === 1 ? FIRST_SUM : before?.seq === each.seq - 1 ? before.sum : undefined
    const isFit = sumBefore !== undefined && each.sum === sumOfRow(sumBefore, { seq: each.seq, ...each.row })
    if (each.sum !== undefined && !isFit) doubtful.push(each.seq)
    before = each
  }
  return doubtful
}

function cellAt(page: Buffer, at: number, size: number, pages: ReadonlyMap<number, Buffer>): Salvaged | undefined {
  const cursor = { at }
  const length = varint(page, cursor)
  const seq = varint(page, cursor)
  if (!(length > 0 && length < 10_000_000 && seq > 0)) return undefined
  const record = payload(page, cursor.at, length, size, pages)
  const found = record && entryIn(record)
  return found && { seq, ...found }
}

/** The record of a cell: what lies on its page and the chain of pages after it. */
function payload(page: Buffer, at: number, length: number, size: number, pages: ReadonlyMap<number, Buffer>) {
  if (length <= size - 35) return at + length <= size ? page.subarray(at, at + length) : undefined
  const least = Math.floor(((size - 12) * 32) / 255) - 23
  const wanted = least + ((length - least) % (size - 4))
  const local = wanted <= size - 35 ? wanted : least
  if (at + local + 4 > size) return undefined
  const parts = [page.subarray(at, at + local)]
  let next = page.readUInt32BE(at + local)
  for (let left = length - local; left > 0; left -= size - 4) {
    const more = pages.get(next)
    if (!more) return undefined
    parts.push(more.subarray(4, 4 + Math.min(left, size - 4)))
    next = more.readUInt32BE(0)
  }
  return Buffer.concat(parts)
}

const INTEGER_BYTES: Readonly<Record<number, number>> = { 1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8, 8: 0, 9: 0 }

/** An entry's record has the columns seq (none: it is the row's number), id, at, mark, body and, of late, sum. */
function entryIn(record: Buffer): Omit<Salvaged, 'seq'> | undefined {
  const cursor = { at: 0 }
  const headerEnd = varint(record, cursor)
  const types: number[] = []
  while (cursor.at < headerEnd && types.length < 7) types.push(varint(record, cursor))
  const [none, id, at, mark, body, sum] = types
  if (types.length < 5 || types.length > 6 || none !== 0 || at === undefined || !(at in INTEGER_BYTES)) return undefined
  let place = headerEnd
  const text = (type: number | undefined): string | undefined => {
    if (type === undefined || type < 13 || type % 2 === 0) return undefined
    const length = (type - 13) / 2
    place += length
    return place <= record.length ? textOrNone(record.subarray(place - length, place)) : undefined
  }
  const idText = text(id)
  const bytes = INTEGER_BYTES[at]!
  if (place + bytes > record.length) return undefined
  const time =
    bytes === 0 ? at - 8 : bytes === 8 ? Number(record.readBigInt64BE(place)) : record.readIntBE(place, bytes)
  place += bytes
  const markText = text(mark)
  const bodyText = text(body)
  if (idText === undefined || markText === undefined || bodyText === undefined) return undefined
  const row = { id: idText, at: time, mark: markText, body: bodyText }
  const entry = readable(row)
  const sumText = text(sum)
  return entry && { entry, row, ...(sumText === undefined ? {} : { sum: sumText }) }
}

function textOrNone(bytes: Buffer): string | undefined {
  try {
    return strictText(bytes)
  } catch {
    return undefined
  }
}
