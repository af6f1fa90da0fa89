import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import type { Policy } from '../../src/protocol/policy.ts'
import { COIN, DOOR, inShort, reading } from './notation.ts'

/** Tables of the page, each as its rows of cells; backticks are taken off. */
function tables(text: string): string[][][] {
  return text
    .split('\n')
    .map(line => (line.startsWith('|') ? line.split('|').slice(1, -1) : undefined))
    .map(cells => cells?.map(cell => cell.trim().replace(/^`(.*)`$/, '$1')))
    .reduce<string[][][]>(
      (all, cells) => {
        if (cells && !cells[0]!.startsWith('-')) all.at(-1)!.push(cells)
        else if (!cells && all.at(-1)!.length > 0) all.push([])
        return all
      },
      [[]],
    )
    .filter(table => table.length > 0)
}

const page = readFileSync(new URL('../../src/ledger/README.md', import.meta.url), 'utf8')
const [contacts = [], ...sequences] = tables(page)
const policies = new Map(
  contacts.slice(1).map(([name = '', settings = '']): [string, Policy] => [name, { ...COIN, ...JSON.parse(settings) }]),
)
const rows = sequences.flatMap(([head = [], ...body]) => {
  expect(head).toEqual(['contact', 'case', 'entries', 'read at', 'reading'])
  return body
})

describe('sequences of the page of counting rules', () => {
  test('are there, and every kind of contact is used', () => {
    expect(rows.length).toBeGreaterThanOrEqual(97)
    expect(new Set(rows.map(([contact]) => contact))).toEqual(new Set(policies.keys()))
    expect([policies.get('coin'), policies.get('door')]).toEqual([COIN, DOOR])
  })

  test.each(rows)('%s: %s (%s, read at %s)', (contact, _case, entries, readAt, expected) => {
    const sequence = entries === 'none' ? '' : entries
    expect(inShort(reading(sequence, readAt, policies.get(contact)!))).toBe(expected)
  })
})
