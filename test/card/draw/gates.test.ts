import fc from 'fast-check'
import { expect, test } from 'vitest'
import { gatesLabel, layoutGates } from '../../../src/card/draw/gates.ts'

const left = { p05: 2, p50: 12, p95: 29 }

test('each send is a stroke: inked, then to the sure limit, the median and the far limit', () => {
  const { strokes, perStroke, shapes } = layoutGates({ sends: 8, left }, 400)
  expect(perStroke).toBe(1)
  expect(strokes).toEqual({ sent: 8, sure: 2, expected: 10, beyond: 17 })
  const drawn = shapes.reduce((sum, shape) => sum + ('d' in shape ? shape.d.split('M').length - 1 : 0), 0)
  expect(drawn).toBe(37)
  expect(shapes.map(shape => ('pen' in shape ? shape.pen : ''))).toEqual(['sent', 'sure', 'expected', 'beyond'])
})

test('every fifth stroke crosses its gate', () => {
  const [sent] = layoutGates({ sends: 5 }, 400).shapes
  const strokes = ('d' in sent! ? sent.d : '')
    .split('M')
    .slice(1)
    .map(stroke => stroke.split('L').map(point => Number(point.split(' ')[0])))
  expect(strokes.slice(0, 4).every(([from, to]) => from === to)).toBe(true)
  expect(strokes[4]![0]!).toBeLessThan(strokes[0]![0]!)
  expect(strokes[4]![1]!).toBeGreaterThan(strokes[3]![0]!)
})

// About 470 openings is what a 0.17 s join leaves of one cell (computed from the calibrated cell).
test('hundreds of openings are grouped until they fit, and the scale is said', () => {
  const { perStroke, width, shapes } = layoutGates({ sends: 120, left: { p05: 200, p50: 350, p95: 700 } }, 330)
  expect(perStroke).toBe(20)
  expect(width).toBeLessThanOrEqual(330)
  expect(shapes.some(shape => 'text' in shape && shape.text === '1 = 20')).toBe(true)
})

test('the gates fit whatever the numbers, and one send is never lost in a group', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 5000 }),
      fc.array(fc.double({ min: 0, max: 5000, noNaN: true }), { minLength: 3, maxLength: 3 }),
      fc.integer({ min: 120, max: 900 }),
      (sends, limits, width) => {
        const [p05, p50, p95] = limits.toSorted((a, b) => a - b) as [number, number, number]
        const gates = layoutGates({ sends, left: { p05, p50, p95 } }, width)
        expect(gates.width).toBeLessThanOrEqual(width + 4)
        expect(gates.strokes.sent > 0).toBe(sends > 0)
        expect(
          Math.abs((gates.strokes.sent + gates.strokes.sure + gates.strokes.expected) * gates.perStroke - sends - p50),
        ).toBeLessThanOrEqual(1.5 * gates.perStroke)
      },
    ),
  )
})

test('the numbers are said in words and in the language of the reader', () => {
  expect(gatesLabel({ sends: 8, left })).toBe('8 sent, about 12 left, 2 to 29')
  expect(gatesLabel({ sends: 3 })).toBe('3 sent, no forecast')
  expect(gatesLabel({ sends: 8, left: { p05: 2.99, p50: 11.9999999999, p95: 29.5 } })).toBe(
    '8 sent, about 12 left, 2 to 30',
  )
  expect(
    gatesLabel(
      { sends: 1200, left },
      { both: '{sends} gesendet, noch etwa {p50} ({p05} bis {p95})', sent: '{sends} gesendet' },
      'de',
    ),
  ).toBe('1.200 gesendet, noch etwa 12 (2 bis 29)')
})

test('numbers that cannot be are refused', () => {
  expect(() => layoutGates({ sends: -1 }, 300)).toThrow(RangeError)
  expect(() => layoutGates({ sends: 1, left: { p05: 1, p50: Number.NaN, p95: 2 } }, 300)).toThrow('NaN')
})
