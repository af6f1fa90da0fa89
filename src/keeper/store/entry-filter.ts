import type { What } from '../../protocol/whats.ts'

/** Which entries of a store; what is absent does not narrow them. */
export interface EntryFilter {
  readonly marks?: readonly string[]
  /** Milliseconds since the epoch, inclusive. */
  readonly sinceMs?: number
  readonly whats?: readonly What[]
  /** Only those that carry the revision of a header. */
  readonly hasRevision?: true
  /** Numbers in the order of commit: from, inclusive, and to, exclusive. */
  readonly from?: number
  readonly to?: number
}

/** The filter as the end of a query, `where …` or nothing, and the values of its placeholders. */
export function whereOf({ marks, sinceMs, whats, hasRevision, from, to }: EntryFilter): {
  readonly where: string
  readonly values: readonly unknown[]
} {
  const all: [condition: string, values: readonly unknown[]][] = []
  if (marks !== undefined) all.push([`mark in (${marks.map(() => '?').join(', ')})`, marks])
  if (sinceMs !== undefined) all.push(['at >= ?', [sinceMs]])
  if (from !== undefined) all.push(['seq >= ?', [from]])
  if (to !== undefined) all.push(['seq < ?', [to]])
  // Only `JSON.stringify` writes a body, and a quote within a text is escaped: a key stands nowhere else.
  if (hasRevision) all.push(['instr(body, ?) > 0', ['"revision":']])
  if (whats !== undefined) {
    const held = whats.map(() => 'instr(body, ?) > 0').join(' or ')
    all.push([`(${held || 'false'})`, whats.map(what => `"what":${JSON.stringify(what)}`)])
  }
  const where = all.length > 0 ? `where ${all.map(([condition]) => condition).join(' and ')}` : ''
  return { where, values: all.flatMap(([, values]) => values) }
}
