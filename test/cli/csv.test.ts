import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { type COLUMNS, csvHead, csvLine, csvRecords, entryJson } from '../../src/cli/care/csv.ts'
import { parseEntry } from '../../src/cli/store/tally-file.ts'
import { type Entry, HOWS } from '../../src/protocol/entry.ts'
import { WHATS } from '../../src/protocol/whats.ts'

/** Fails to compile when an entry gains a field that the table lacks. */
const covered: Exclude<keyof Entry, 'cell' | (typeof COLUMNS)[number]> extends never ? true : false = true

const read = (text: string): unknown[] => {
  const [head, ...rows] = [...csvRecords(text)]
  return rows.map(({ fields }) => JSON.parse(entryJson(head!.fields, fields)))
}

describe('a table', () => {
  it('has a column for every field of an entry', () => expect(covered).toBe(true))

  it('brings every entry back as it was', () => {
    const text = fc.string({ unit: 'grapheme', maxLength: 12 })
    const time = fc
      .date({ min: new Date(0), max: new Date('9999-01-01'), noInvalidDate: true })
      .map(date => date.toISOString())
    const entry = fc.record(
      {
        id: fc.stringMatching(/^[0-9A-Za-z-]{1,36}$/),
        at: time,
        until: time,
        mark: fc.stringMatching(/^[A-Za-z0-9][A-Za-z0-9-]{0,15}$/),
        what: fc.constantFrom(...WHATS),
        how: fc.constantFrom(...HOWS),
        sends: fc.nat(),
        boots: fc.nat(),
        text,
        by: text,
        note: fc.constantFrom('', '=1+1', "'quoted", '-x', '+x', '@x', '\tx', '"', 'a,b', 'a\r\nb', ' x ', '\ufeff'),
        cell: fc.record({ type: text, batch: text, millivolts: fc.nat() }, { requiredKeys: ['type'] }),
        undoes: text,
        millivolts: fc.nat(),
        revision: text,
        linkLiveSeconds: fc.double({ min: 0, max: 1e9, noNaN: true }),
        joinMilliseconds: fc.nat(),
      },
      { requiredKeys: ['id', 'at', 'mark', 'what', 'how'] },
    ) as fc.Arbitrary<Entry>
    fc.assert(
      fc.property(fc.array(entry, { maxLength: 5 }), entries => {
        const table = csvHead() + entries.map(one => csvLine(one, 'Fri 2026-05-01 09:00', 'Dye room, "south"')).join('')
        expect(read(table)).toEqual(JSON.parse(JSON.stringify(entries)))
      }),
    )
  })

  // RFC 4180, section 2: the examples of its rules 2, 5, 6 and 7.
  it('is read by the rules of RFC 4180', () => {
    const fields = (text: string) => [...csvRecords(text)].map(record => record.fields)
    expect(fields('aaa,bbb,ccc\r\nzzz,yyy,xxx')).toEqual([
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ])
    expect(fields('"aaa","bbb","ccc"\r\nzzz,yyy,xxx\r\n')).toEqual([
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ])
    expect(fields('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx')).toEqual([
      ['aaa', 'b\r\nbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ])
    expect(fields('"aaa","b""bb","ccc"')).toEqual([['aaa', 'b"bb', 'ccc']])
    expect([...csvRecords('a\n"b\nc"\nd')].map(record => record.line)).toEqual([1, 2, 4])
  })

  it('gives a spreadsheet no formula', () => {
    const line = csvLine(
      {
        id: 'a',
        at: '2026-05-01T00:00:00.000Z',
        mark: 'W01',
        what: 'note',
        how: 'said',
        note: '=HYPERLINK("http://x")',
      },
      '',
      '=1',
    )
    expect(line).toContain(`"'=HYPERLINK(""http://x"")"`)
    expect(line).toContain(",'=1\r\n")
  })

  it('that is damaged is refused with its line', () => {
    expect(() => [...csvRecords('a,b\n"c,d')]).toThrow(/line 2: a quoted field does not end/)
    expect(() => [...csvRecords('a,b\n"c"d,e')]).toThrow(/line 2: a quote must enclose a whole field/)
    expect(parseEntry(entryJson(['id', 'boots'], ['a', 'many']))).toHaveProperty('wrong')
  })
})
