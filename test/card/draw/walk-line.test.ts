import { expect, test } from 'vitest'
import { layoutHouse } from '../../../src/card/draw/layout.ts'
import type { StepShown } from '../../../src/card/draw/step.ts'
import { walkLine } from '../../../src/card/draw/walk-line.ts'

const at = (side: string, floor: number, along: number) => ({ side, floor, along })
const house = {
  sides: ['south', 'east'],
  floors: 2,
  roof: 'gable',
  openings: [
    { mark: 'W1', kind: 'window', at: at('south', 0, 0.2) },
    { mark: 'W2', kind: 'window', at: at('south', 0, 0.8) },
    { mark: 'W3', kind: 'window', at: at('east', 0, 0.5) },
    { mark: 'W4', kind: 'window', at: at('south', 1, 0.5) },
  ],
} as const
const [page] = layoutHouse(house, { width: 800, height: 400 }).pages
const steps = (done: number) =>
  new Map(
    house.openings.map(({ mark }, index): [string, StepShown] => [
      mark,
      { number: index + 1, state: index < done ? 'done' : index === done ? 'next' : 'waiting' },
    ]),
  )
/** All numbers x of a path. */
const reach = (d: string) => [...d.matchAll(/[ML]([\d.]+) /g)].map(([, x]) => Number(x))

test('the way is inked as far as one has come, and dotted from there to the end of each floor', () => {
  const place = (mark: string) => page!.elevations.flatMap(({ openings }) => openings).find(each => each.mark === mark)!
  const middle = (mark: string) => place(mark).shape.x + place(mark).shape.width / 2
  const inked = walkLine(page!, steps(1)).filter(({ pen }) => pen === 'sent')
  expect(inked).toHaveLength(2)
  expect(Math.min(...reach(inked[0]!.d))).toBeCloseTo(middle('W1'), 1)
  expect(Math.max(...reach(inked[0]!.d))).toBeCloseTo(middle('W2'), 1)
  const dotted = walkLine(page!, steps(1)).filter(({ pen }) => pen === 'unheard')
  expect(dotted, 'one for each floor').toHaveLength(2)
  expect(Math.max(...reach(dotted[0]!.d)), 'to the other side').toBeGreaterThan(middle('W3'))
})

test('a floor that has been walked is inked whole', () => {
  expect(walkLine(page!, steps(4)).filter(({ pen }) => pen === 'unheard')).toEqual([])
})

test('no way leads through the air between sides that do not stand on one line', () => {
  const [high] = layoutHouse(house, { width: 200 }).pages
  expect(new Set(high!.elevations.map(({ wall }) => wall.y + wall.height)).size).toBe(2)
  expect(walkLine(high!, steps(1))).toEqual([])
})
