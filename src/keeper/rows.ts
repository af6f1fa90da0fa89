import { type Entry, isEntry } from '../protocol/entry.ts'
import { iso } from '../text/time.ts'

/** A row of the table of entries. What has no column of its own stands in `body` as JSON. */
export interface Row {
  readonly seq: number
  readonly id: string
  /** Milliseconds since the epoch. */
  readonly at: number
  readonly mark: string
  readonly body: string
}

export function rowOf(entry: Entry): readonly [id: string, at: number, mark: string, body: string] {
  const { id, at, mark, ...rest } = entry
  return [id, Date.parse(at), mark, JSON.stringify(rest)]
}

/**
 * The entry as it was given; its keys stand in the order of the type.
 * @throws SyntaxError or RangeError when the row holds none
 */
export function entryOf(row: Omit<Row, 'seq'>): Entry {
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
