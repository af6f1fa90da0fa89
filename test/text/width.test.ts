import { spawnSync } from 'node:child_process'
import { expect, test } from 'vitest'
import { columns } from '../../src/text/table.ts'
import { fitted, widthOf } from '../../src/text/width.ts'

const PLAIN = ['Dye room', 'Färberei', '染色室 南', 'ｈａｌｌ', '서재', 'غرفة', 'é', 'क्षि', '🪟 loft', '⌚', 'ﾎｰﾙ']

// wc of the GNU coreutils counts the columns of a line by the C library's table of widths, an independent one.
test.each(PLAIN)('%s takes as many columns as wc counts', text => {
  const { stdout, status } = spawnSync('wc', ['-L'], {
    input: `${text}\n`,
    encoding: 'utf8',
    env: { LC_ALL: 'C.UTF-8' },
  })
  expect(status).toBe(0)
  expect(widthOf(text)).toBe(Number(stdout))
})
// Common practice of terminals of today, no source: what is joined to one picture takes two columns.
test.each([
  ['👩‍🔧', 2],
  ['👍🏽', 2],
  ['🇵🇹', 2],
  ['☀️', 2],
  ['☀', 1],
])('%s takes %i', (text, width) => {
  expect(widthOf(text)).toBe(width)
})
test('a cut text fits, and no character is halved', () => {
  expect(fitted('染色室 南', 9)).toBe('染色室 南')
  expect(fitted('染色室 南', 8)).toBe('染色室 …')
  expect(fitted('👩‍🔧👩‍🔧👩‍🔧', 4)).toBe('👩‍🔧…')
  expect(fitted('é'.repeat(9), 4)).toBe(`${'é'.repeat(3)}…`)
})
test('a column begins at the same place in every row', () => {
  const rows = [
    ['染色室', 'x'],
    ['hall', 'x'],
    ['🪟🇵🇹', 'x'],
  ]
  const begins = columns(rows).map(line => widthOf(line.slice(0, line.indexOf('x'))))
  expect(new Set(begins)).toEqual(new Set([8]))
})
