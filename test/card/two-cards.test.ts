import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { Layouts } from '../../src/card/select/layouts.ts'
import { remembering } from '../../src/card/select/remembering.ts'
import { RowSorter } from '../../src/card/select/sort.ts'
import { houseOf } from '../../src/card/state/house.ts'
import { blank } from '../../src/card/state/row.ts'
import { parseRegister } from '../../src/register/parse.ts'

const text = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')
const houses = [text, text.replace('Ropewalk Studios', 'Another house')].map(each =>
  houseOf(parseRegister(each).register!),
)

test('two cards that are drawn in turn work nothing out again for each other', () => {
  const cards = houses.map(house => ({
    house,
    rows: house.openings.map(opening => ({ opening, reading: blank(opening.mark, '2026-11-25T21:47:00.000Z') })),
    sorter: new RowSorter(),
    layouts: new Layouts(),
  }))
  const draw = () =>
    cards.flatMap(({ house, rows, sorter, layouts }) => [
      sorter.sorted(rows, 'urgency', house.sides, 'en'),
      layouts.onScreen(house, { width: 900, height: 500 }, true),
      layouts.onPaper(house),
    ])
  const first = draw()
  expect(new Set(first).size, 'each has its own').toBe(6)
  for (const [index, made] of draw().entries()) expect(made).toBe(first[index])
})

test('what is remembered is made anew for other inputs only', () => {
  let made = 0
  const pair = remembering((a: string, b: number) => ({ text: `${a}${b}`, n: ++made }))
  expect(pair('a', 1)).toBe(pair('a', 1))
  expect(pair('a', 2).text).toBe('a2')
  expect(made).toBe(2)
})
