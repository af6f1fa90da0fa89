import { type Entry, isEntry } from '../../protocol/entry.ts'
import { iso } from '../../text/time.ts'

/** A row of the table of entries. What has no column of its own stands in `body` as JSON. */
export interface EntryRow {
  readonly seq: number
  readonly id: string
  /** Milliseconds since the epoch. */
  readonly at: number
  readonly mark: string
  readonly body: string
}

/**
 * What is selected of an entry. Text comes as bytes: the binding ends the process at text that is no UTF-8, which one
 * flipped bit makes of any.
 */
export const ROW_BYTES =
  'seq, cast(id as blob) as id, at, cast(mark as blob) as mark, cast(body as blob) as body, cast(sum as blob) as sum'

/** A row as it is selected by `ROW_BYTES`. */
export interface RowBytes {
  readonly seq: number
  readonly id: ArrayBuffer
  readonly at: number
  readonly mark: ArrayBuffer
  readonly body: ArrayBuffer
  readonly sum: ArrayBuffer
}

const strict = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true })

/** @throws TypeError when the bytes are no UTF-8 */
export const strictText = (bytes: ArrayBuffer | Uint8Array): string => strict.decode(bytes)

/** @throws TypeError when a text in the row is no UTF-8 */
export const rowOfBytes = ({ seq, id, at, mark, body, sum }: RowBytes): EntryRow & { readonly sum: string } => ({
  seq,
  id: strictText(id),
  at,
  mark: strictText(mark),
  body: strictText(body),
  sum: strictText(sum),
})

export function rowOf(entry: Entry): readonly [id: string, at: number, mark: string, body: string] {
  const { id, at, mark, ...rest } = entry
  return [id, Date.parse(at), mark, JSON.stringify(rest)]
}

/**
 * The entry as it was given; its keys stand in the order of the type.
 * @throws SyntaxError or RangeError when the row holds none
 */
export function entryOf(row: Omit<EntryRow, 'seq'>): Entry {
  const { until, ...rest } = JSON.parse(row.body) as Partial<Entry>
  const entry = {
    id: row.id,
    at: iso(row.at),
    ...(until === undefined ? {} : { until }),
    mark: row.mark,
    ...rest,
  }
  if (!isEntry(entry)) throw new RangeError('the row holds no entry')
  return entry
}

/** The entry of a row, undefined where it is no entry. */
export function readable(row: Omit<EntryRow, 'seq'>): Entry | undefined {
  try {
    return entryOf(row)
  } catch {
    return undefined
  }
}
