import { expect, test } from 'vitest'
import { remembering } from '../../src/card/select/remembering.ts'
import type { Scene } from '../../src/card/select/scene.ts'
import { Selector } from '../../src/card/select/select.ts'
import { wordsFor } from '../../src/card/words/words.ts'
import { Played, REGISTER } from './played.ts'

const PLACED = REGISTER.replaceAll(/sender: (\w+) \}/g, 'sender: $1, at: { side: south, floor: 0 } }')

test('two cards that are drawn in turn work nothing out again for each other', () => {
  const cards = ['Ropewalk Studios', 'Another house'].map(name => {
    const card = new Played()
    card.begin({}, PLACED.replace('Ropewalk Studios', name))
    card.hear(['ropewalk/w01', 'opened'], ['ropewalk/d01', 'shut', true])
    card.play({ kind: 'tell', mark: 'W01' })
    return { card, selector: new Selector() }
  })
  const draw = () =>
    cards.map(({ card, selector }): Scene => {
      const page = { words: wordsFor(['en']), area: { width: 900, height: 500 }, accountKept: false, act: card.play }
      return selector.select(card.state, { ...page, now: card.now, elapsed: card.now })!
    })
  const costly = (scene: Scene) => [scene.rows, scene.inOrder, scene.layout(), scene.storyOf('W01'), ...scene.rows]
  const first = draw().map(costly)
  expect(new Set(first.flat()).size, 'each has its own').toBe(first.flat().length)
  const again = draw().map(costly)
  for (const [index, made] of again.flat().entries()) expect(made).toBe(first.flat()[index])
  // One of them hears a word: the other is as it was, and of its own rows only one is another.
  cards[0]!.card.hear(['ropewalk/w02', 'opened'])
  const [mine, other] = draw().map(costly)
  expect(other!.every((made, index) => made === first[1]![index])).toBe(true)
  const [, , layout, story, ...rows] = mine!
  expect([layout, story]).toEqual([first[0]![2], first[0]![3]])
  expect(rows.map((row, index) => row === first[0]![4 + index])).toEqual([true, false, true])
})

test('what is remembered is made anew for other inputs only', () => {
  let made = 0
  const pair = remembering((a: string, b: number) => ({ text: `${a}${b}`, n: ++made }))
  expect(pair('a', 1)).toBe(pair('a', 1))
  expect(pair('a', 2).text).toBe('a2')
  expect(made).toBe(2)
})
