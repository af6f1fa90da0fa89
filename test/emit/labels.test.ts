import fc from 'fast-check'
import jsqr from 'jsqr'
import { describe, expect, test } from 'vitest'
import { gridFault, LABEL_GRID, labelSize } from '../../src/emit/paper/label-grid.ts'
import { CAUTION_MILLIMETRES, labelCautions, labelPage, labelSheets } from '../../src/emit/paper/labels.ts'
import { scheduleCsv, scheduleHtml } from '../../src/emit/paper/schedule.ts'
import { anyHouse, ropewalk } from './houses.ts'

/** Draws the dark modules of every QR path in a sheet and reads them back with a decoder library. */
function codesIn(sheet: string): (string | undefined)[] {
  const decode = jsqr as unknown as typeof jsqr.default
  return [...sheet.matchAll(/<path [^>]*d="([^"]+)"/g)].map(([, d = '']) => {
    const dark = [...d.matchAll(/M(\d+) (\d+)h1v1h-1z/g)].map(match => [Number(match[1]), Number(match[2])] as const)
    const modules = Math.max(...dark.flat()) + 5
    const scale = 6
    const width = modules * scale
    const pixels = new Uint8ClampedArray(width * width * 4).fill(255)
    for (const [x, y] of dark)
      for (let i = 0; i < scale; i++)
        for (let j = 0; j < scale; j++) {
          const at = ((y * scale + i) * width + x * scale + j) * 4
          pixels.fill(0, at, at + 3)
        }
    return decode(pixels, width, width)?.data
  })
}

describe('labels', () => {
  test('every QR code reads back as its mark', () => {
    const register = ropewalk()
    expect(labelSheets(register).flatMap(codesIn)).toEqual(register.openings.map(({ mark }) => mark))
  })
  test('each label says mark, name, client id, cell and cautions', () => {
    const register = ropewalk()
    const page = labelPage(register, { ...LABEL_GRID, paper: 'letter' })
    for (const { mark, client } of register.openings) {
      expect(page).toContain(`>${mark}</text>`)
      expect(page).toContain(`client id ${client}<`)
    }
    expect(page).toContain('215.9mm')
    expect(page.match(/Swallowed/g)).toHaveLength(register.openings.length)
  })
  test.each(['a4', 'letter'] as const)('cautions are large enough to be read, on %s', paper => {
    const grid = { ...LABEL_GRID, paper }
    const { width, height } = labelSize(grid)
    const register = ropewalk()
    const texts = [
      ...labelSheets(register, grid)
        .join('')
        .matchAll(/<text x="([\d.]+)" y="([\d.]+)" font-size="([\d.]+)"( font-weight="bold")?[^>]*>([^<]*)</g),
    ]
    const all = new Set(register.openings.flatMap(({ sender }) => labelCautions(sender)))
    const found = texts.filter(([, , , , , text = '']) => all.has(text))
    expect(found).toHaveLength(4 * register.openings.length)
    for (const [, x, y, size, bold, text = ''] of found) {
      expect(Number(size)).toBeGreaterThanOrEqual(CAUTION_MILLIMETRES)
      // 0.45 of its height is the mean width of a letter of a narrow face, 0.53 of a bold one (looked at in a browser).
      expect(Number(x) + text.length * Number(size) * (bold ? 0.53 : 0.45)).toBeLessThan(width)
      expect(Number(y)).toBeLessThan(height - 1)
    }
    // The first stands clear of what is above.
    expect(Math.min(...found.map(([, , y]) => Number(y))) - CAUTION_MILLIMETRES).toBeGreaterThan(20.5)
  })
  test('cautions are those of what feeds the contact', () => {
    const [coin, yard] = [ropewalk().senders.coin!, ropewalk().senders.yard!]
    expect(labelCautions(coin)[0]).toMatch(/^Swallowed, cell or magnet kills/)
    expect(labelCautions({ ...coin, reports: 'both' })).toEqual(labelCautions(coin))
    expect(labelCautions({ ...coin, cell: 'two FR03' }).join(' ')).not.toMatch(/Lid needs a tool/)
    expect(labelCautions(yard).join(' ')).toMatch(/closed, approved supply/)
    expect(labelCautions(yard).join(' ')).not.toMatch(/solder|Old cell/)
  })
  test('a grid too fine to read is refused with its sizes', () => {
    expect(gridFault(LABEL_GRID)).toBeUndefined()
    expect(gridFault({ ...LABEL_GRID, columns: 6 })).toMatch(/60 by 34 mm/)
    expect(gridFault({ ...LABEL_GRID, rows: 0 })).toMatch(/at least 1/)
    expect(() => labelSheets(ropewalk(), { ...LABEL_GRID, columns: 6 })).toThrow(RangeError)
  })
  test('no text of a register becomes markup', () => {
    fc.assert(
      fc.property(anyHouse, register => {
        for (const text of [labelPage(register), scheduleHtml(register)]) {
          expect(text).not.toMatch(/<(script|img)/i)
          const opened = text.match(/<text\b/g)?.length ?? 0
          expect(text.match(/<\/text>/g)?.length ?? 0).toBe(opened)
        }
      }),
      { numRuns: 50 },
    )
  })
})

describe('the schedule', () => {
  test('has a row an opening, in HTML and CSV', () => {
    const register = ropewalk()
    expect(scheduleCsv(register).split('\r\n')).toHaveLength(register.openings.length + 2)
    expect(scheduleHtml(register).match(/<tr>/g)).toHaveLength(register.openings.length + 1)
  })
  test('any text reads back from the CSV by RFC 4180', () => {
    fc.assert(
      fc.property(anyHouse, register => {
        const rows = parseCsv(scheduleCsv(register))
        const names = rows.slice(1).map(row => row[1]!.replace(/^'(?='*[=+\-@\t\r])/, ''))
        expect(names).toEqual(register.openings.map(({ name }) => name))
      }),
    )
  })
})

/** RFC 4180, section 2, rules 1 to 7. */
function parseCsv(text: string): string[][] {
  const rows: string[][] = []
  let row: string[] = []
  let rest = text
  while (rest) {
    const field = /^(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/.exec(rest)
    if (!field) throw new Error(`not RFC 4180: ${JSON.stringify(rest.slice(0, 40))}`)
    row.push(field[1]?.replaceAll('""', '"') ?? field[2] ?? '')
    rest = rest.slice(field[0].length)
    if (field[3] === '\r\n') {
      rows.push(row)
      row = []
    }
  }
  return rows
}
