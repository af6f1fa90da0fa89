import { expect, test } from 'vitest'
import { type CurveFacts, layoutCurve } from '../../../src/card/draw/curve.ts'
import { hatching, merge, polygon } from '../../../src/card/draw/shapes.ts'

const facts: CurveFacts = {
  points: [
    { sends: 0, chance: 1 },
    { sends: 20, chance: 0.5 },
    { sends: 40, chance: 0 },
  ],
  cells: [
    { sends: 20, died: true },
    { sends: 20, died: true },
    { sends: 10, died: false },
  ],
  sends: 8,
}
const words = { axis: 'opening' }
const pathOf = (shapes: ReturnType<typeof layoutCurve>['shapes'], pen: string) =>
  shapes.flatMap(shape => ('pen' in shape && shape.pen === pen ? [shape.d] : [])).join('')
const pointsOf = (d: string) =>
  [...d.matchAll(/[ML]([\d.]+) ([\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)] as const)

test('the curve falls from 100 % at new to the last point, half way in the middle', () => {
  const points = pointsOf(pathOf(layoutCurve(facts, 446, 150, words).shapes, 'curve'))
  expect(points).toEqual([
    [36, 16],
    [236, 66],
    [436, 116],
  ])
})

test('the present cell and every cell of the house are marked; dead ones with a cross', () => {
  const { shapes } = layoutCurve(facts, 446, 150, words)
  expect(pointsOf(pathOf(shapes, 'now'))[0]![0]).toBe(36 + 80)
  expect(pathOf(shapes, 'sent').split('M')).toHaveLength(5)
  expect(pathOf(shapes, 'sure').match(/a3 3/g)).toHaveLength(2)
})

test('the axis grows with the longest-lived cell and its numbers never crowd', () => {
  for (const sends of [1, 8, 30, 470, 2000]) {
    const { shapes } = layoutCurve({ ...facts, sends }, 400, 150, words)
    const xs = shapes.flatMap(shape =>
      'text' in shape && shape.anchor === 'middle' && /^\d+$/.test(shape.text) ? [shape.x] : [],
    )
    expect(xs.length).toBeGreaterThan(1)
    for (let i = 1; i < xs.length; i++) expect(xs[i]! - xs[i - 1]!).toBeGreaterThan(28)
    expect(Math.max(...xs)).toBeLessThanOrEqual(400)
  }
})

test('a forecast without points still draws its axes, and an impossible chance is refused', () => {
  expect(layoutCurve({ points: [], cells: [], sends: 0 }, 300, 120, words).shapes.length).toBeGreaterThan(3)
  expect(() => layoutCurve({ ...facts, points: [{ sends: 1, chance: 1.2 }] }, 300, 120, words)).toThrow('1.2')
})

test('hatching stays inside its polygon and covers it evenly', () => {
  const lines = hatching(
    [
      [0, 0],
      [20, 0],
      [20, 10],
      [0, 10],
    ],
    5,
  )
    .split('M')
    .slice(1)
    .map(line => line.split('L').map(point => point.split(' ').map(Number) as [number, number]))
  expect(lines.length).toBe(5)
  for (const [[ax, ay], [bx, by]] of lines as [[number, number], [number, number]][]) {
    expect(ax + ay).toBeCloseTo(bx + by, 5)
    for (const [x, y] of [
      [ax, ay],
      [bx, by],
    ] as const) {
      expect(x >= 0 && x <= 20 && y >= 0 && y <= 10).toBe(true)
    }
  }
})

test('paths of one pen that follow each other become one element', () => {
  const square = polygon([0, 0], [1, 0], [1, 1])
  expect(
    merge([
      { pen: 'fine', d: square },
      { pen: 'fine', d: square },
      { pen: 'edge', d: square },
      { pen: 'fine', d: '' },
    ]),
  ).toEqual([
    { pen: 'fine', d: square + square },
    { pen: 'edge', d: square },
  ])
})
