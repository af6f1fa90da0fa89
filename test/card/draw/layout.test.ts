import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { layoutHouse } from '../../../src/card/draw/layout.ts'
import { OUTLINE } from '../../../src/card/draw/measure.ts'
import type { Elevation, House, Layout } from '../../../src/card/draw/plan.ts'
import type { Box } from '../../../src/card/draw/shapes.ts'
import { sideForms } from '../../../src/card/draw/stretch.ts'
import { KINDS, ROOFS } from '../../../src/register/types.ts'
import { houseOf, longHouse } from './houses.ts'

/** The part of a wall sheet of 1280 by 800 that the elevations have. */
const TABLET = { width: 836, height: 580 }

const overlap = (a: Box, b: Box) =>
  Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x) > 0.01 &&
  Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y) > 0.01

const outlined = ({ x, y, width, height }: Box, base: number): Box => ({
  x: x - OUTLINE,
  y: y - OUTLINE,
  width: width + 2 * OUTLINE,
  height: Math.min(height + 2 * OUTLINE - 1, base + 1 - y + OUTLINE),
})

const elevationsOf = (layout: Layout) => layout.pages.flatMap(page => page.elevations)

function expectNoOverlap({ openings, wall }: Elevation) {
  const boxes = openings.map(({ shape, tag }) => [outlined(shape, wall.y + wall.height), tag])
  for (let i = 0; i < boxes.length; i++)
    for (let j = i + 1; j < boxes.length; j++) {
      for (const a of boxes[i]!)
        for (const b of boxes[j]!) if (overlap(a, b)) expect.fail(`${openings[i]!.mark} meets ${openings[j]!.mark}`)
      if (overlap(openings[i]!.hit, openings[j]!.hit))
        expect.fail(`fingers on ${openings[i]!.mark} hit ${openings[j]!.mark}`)
    }
}

const house: fc.Arbitrary<House> = fc
  .record({
    sides: fc.constantFrom(['south', 'east', 'north', 'west'], ['south', 'north'], ['yard'], ['a', 'b', 'c', 'd', 'e']),
    floors: fc.integer({ min: 1, max: 4 }),
    roof: fc.constantFrom(...ROOFS),
    count: fc.integer({ min: 1, max: 60 }),
  })
  .chain(({ sides, floors, roof, count }) =>
    fc
      .array(
        fc.record({
          kind: fc.constantFrom(...KINDS),
          side: fc.constantFrom(...sides),
          floor: fc.integer({ min: 0, max: floors - 1 }),
          along: fc.option(fc.double({ min: 0, max: 1, noNaN: true }), { nil: undefined }),
          mark: fc.stringMatching(/^[A-Za-z0-9][A-Za-z0-9-]{0,12}$/),
        }),
        { minLength: count, maxLength: count },
      )
      .map(list => ({
        sides,
        floors,
        roof,
        openings: list.map(({ kind, side, floor, along, mark }, i) => ({
          mark: `${mark}${i}`,
          kind,
          at: along === undefined ? { side, floor } : { side, floor, along },
        })),
      })),
  )
const areas = fc.constantFrom(
  TABLET,
  { width: 1400, height: 860 },
  { width: 700, height: 900 },
  { width: 296 },
  { width: 640, height: 420 },
)

describe('any house of 1 to 60 openings', () => {
  test('shapes, outlines, tags and touch targets never overlap', () => {
    fc.assert(
      fc.property(house, areas, (house, area) => {
        for (const elevation of elevationsOf(layoutHouse(house, area))) expectNoOverlap(elevation)
      }),
      { numRuns: 150 },
    )
  })

  test('every opening with a place stands on exactly one page, inside its walls or its roof', () => {
    fc.assert(
      fc.property(house, areas, (house, area) => {
        const layout = layoutHouse(house, area)
        const marks = elevationsOf(layout).flatMap(({ openings }) => openings.map(({ mark }) => mark))
        expect(marks.toSorted()).toEqual(house.openings.map(({ mark }) => mark).toSorted())
        expect(layout.unplaced).toEqual([])
        if (layout.cramped) return
        for (const { wall, openings, roofHeight } of elevationsOf(layout))
          for (const { shape, inRoof } of openings) {
            expect(shape.x).toBeGreaterThanOrEqual(wall.x)
            expect(shape.x + shape.width).toBeLessThanOrEqual(wall.x + wall.width + 1e-6)
            expect(shape.y).toBeGreaterThanOrEqual(inRoof ? wall.y - roofHeight : wall.y)
            expect(shape.y + shape.height).toBeLessThanOrEqual((inRoof ? wall.y : wall.y + wall.height) + 1e-6)
          }
      }),
      { numRuns: 150 },
    )
  })

  test('the order along a floor is kept', () => {
    fc.assert(
      fc.property(house, areas, (house, area) => {
        const alongs = new Map(house.openings.map(({ mark, at }) => [mark, at?.along]))
        for (const { openings } of elevationsOf(layoutHouse(house, area)))
          for (const a of openings)
            for (const b of openings) {
              const [from, to] = [alongs.get(a.mark), alongs.get(b.mark)]
              if (a.floor !== b.floor || a.inRoof !== b.inRoof || from === undefined || to === undefined) continue
              if (from < to) expect(a.shape.x + a.shape.width / 2).toBeLessThan(b.shape.x + b.shape.width / 2)
            }
      }),
      { numRuns: 100 },
    )
  })

  test('elevations stay on the sheet and apart', () => {
    fc.assert(
      fc.property(house, areas, (house, area) => {
        const layout = layoutHouse(house, area)
        if (layout.cramped) return
        for (const { elevations } of layout.pages)
          elevations.forEach(({ cell }, i) => {
            expect(cell.x + cell.width).toBeLessThanOrEqual(layout.width + 0.01)
            expect(cell.y + cell.height).toBeLessThanOrEqual(layout.height + 0.01)
            for (const other of elevations.slice(i + 1)) expect(overlap(cell, other.cell)).toBe(false)
          })
      }),
      { numRuns: 100 },
    )
  })
})

// 5 minutes of arc at 3 m are 4.36 mm; 1280 by 800 on 10 inches are 5.94 px a mm: 25.9 px. Computed here, the
// 5 minutes are the letter height of normal sight in ISO 8596 (from memory).
test('26 openings on a tablet are drawn at least 26 px wide, on one page, under every roof', () => {
  const pixels = ((Math.hypot(1280, 800) / 254) * 3000 * Math.PI * 5) / (180 * 60)
  expect(pixels).toBeGreaterThan(25.5)
  expect(pixels).toBeLessThan(26)
  for (const roof of ROOFS)
    for (let seed = 1; seed <= 20; seed++) {
      const layout = layoutHouse(houseOf(26, roof, seed), TABLET)
      expect(layout.shape).toBeGreaterThanOrEqual(26)
      expect(layout.pages.length).toBe(1)
      for (const { shape } of elevationsOf(layout).flatMap(({ openings }) => openings))
        expect(Math.min(shape.width, shape.height)).toBeGreaterThanOrEqual(26)
    }
})

test('60 openings on a tablet keep the size and may take further pages', () => {
  for (const roof of ROOFS) expect(layoutHouse(houseOf(60, roof), TABLET).shape).toBeGreaterThanOrEqual(26)
})

test('a finger has 44 px each way where the neighbours leave it', () => {
  const layout = layoutHouse(houseOf(26, 'gable'), TABLET)
  const hits = elevationsOf(layout).flatMap(({ openings }) => openings.map(({ hit }) => hit))
  expect(hits.filter(({ height }) => height < 44)).toEqual([])
  const [alone] = elevationsOf(
    layoutHouse(
      {
        sides: ['south'],
        floors: 1,
        roof: 'flat',
        openings: [{ mark: 'W1', kind: 'window', at: { side: 'south', floor: 0 } }],
      },
      TABLET,
    ),
  )
  expect(alone!.openings[0]!.hit.width).toBeGreaterThanOrEqual(44)
})

test('a side too long for one sheet is cut into even parts at match lines, in order', () => {
  const long = longHouse(80)
  const layout = layoutHouse(long, TABLET)
  const parts = elevationsOf(layout)
  expect(parts.length).toBeGreaterThan(1)
  expect(parts.map(({ part }) => part)).toEqual(parts.map((_, i) => i))
  expect(layout.shape).toBeGreaterThanOrEqual(26)
  const alongs = new Map(long.openings.map(({ mark, at }) => [mark, at!.along!]))
  for (let i = 1; i < parts.length; i++) {
    const before = Math.max(...parts[i - 1]!.openings.map(({ mark }) => alongs.get(mark)!))
    expect(Math.min(...parts[i]!.openings.map(({ mark }) => alongs.get(mark)!))).toBeGreaterThanOrEqual(before)
  }
  const counts = parts.map(({ openings }) => openings.length)
  expect(Math.max(...counts) - Math.min(...counts)).toBeLessThan(20)
})

test('openings without a place, or on an unknown side, are left to the schedule', () => {
  const layout = layoutHouse(
    {
      sides: ['south'],
      floors: 1,
      roof: 'flat',
      openings: [
        { mark: 'W1', kind: 'window' },
        { mark: 'W2', kind: 'window', at: { side: 'moon', floor: 0 } },
        { mark: 'W3', kind: 'window', at: { side: 'south', floor: 0 } },
      ],
    },
    TABLET,
  )
  expect(layout.unplaced).toEqual(['W1', 'W2'])
  expect(elevationsOf(layout)).toHaveLength(1)
  expect(
    layoutHouse({ sides: [], floors: 1, roof: 'flat', openings: [{ mark: 'W1', kind: 'window' }] }, TABLET).pages,
  ).toEqual([])
})

test('eaves and ends alternate, and sides that face each other look alike', () => {
  expect(sideForms(['south', 'east', 'north', 'west'])).toEqual(['long', 'end', 'long', 'end'])
  expect(sideForms(['south', 'north', 'east'])).toEqual(['long', 'long', 'end'])
  expect(sideForms(['street', 'lane', 'yard', 'mews'])).toEqual(['long', 'end', 'long', 'end'])
  expect(sideForms(['Süd', 'Nord'])).toEqual(['long', 'long'])
  expect(sideForms(['West', 'Ost', 'Nord', 'Süd'])).toEqual(['long', 'long', 'end', 'end'])
  expect(sideForms(['yard'])).toEqual(['long'])
})

test('a hatch under the ridge lies in the slope; on a gable end, under a flat roof or lower down it stands in the wall', () => {
  const at = (side: string, floor: number) => ({ side, floor, along: 0.5 })
  const openings = [
    { mark: 'H1', kind: 'hatch', at: at('south', 1) },
    { mark: 'H2', kind: 'hatch', at: at('east', 1) },
    { mark: 'H3', kind: 'hatch', at: at('south', 0) },
  ] as const
  const inRoof = (roof: House['roof']) =>
    elevationsOf(layoutHouse({ sides: ['south', 'east'], floors: 2, roof, openings }, TABLET))
      .flatMap(elevation => elevation.openings)
      .filter(opening => opening.inRoof)
      .map(({ mark }) => mark)
  expect(inRoof('gable')).toEqual(['H1'])
  expect(inRoof('hip')).toEqual(['H1'])
  expect(inRoof('flat')).toEqual([])
})

test('the same house and area give the same places', () => {
  expect(layoutHouse(houseOf(40, 'hip'), TABLET)).toEqual(layoutHouse(houseOf(40, 'hip'), TABLET))
})

test('an impossible area is refused by name', () => {
  expect(() => layoutHouse(houseOf(3, 'hip'), { width: -1 })).toThrow('width is -1')
  expect(() => layoutHouse(houseOf(3, 'hip'), { width: 100, height: Number.NaN })).toThrow('height is NaN')
})

test('a register that says impossible things still gives finite places inside the house', () => {
  const odd = {
    sides: ['south', 'south'],
    floors: 1e9,
    roof: 'thatch' as 'gable',
    openings: [
      { mark: 'W1', kind: 'porthole' as 'window', at: { side: 'south', floor: 1e12, along: Number.NaN } },
      { mark: 'W2', kind: 'window', at: { side: 'south', floor: -3, along: 7 } },
      { mark: 'W3', kind: 'window', at: { side: 'south', floor: Number.NaN, along: -1 } },
    ],
  } as const
  const layout = layoutHouse(odd, TABLET)
  const openings = elevationsOf(layout).flatMap(elevation => elevation.openings)
  expect(openings.map(({ mark }) => mark).toSorted()).toEqual(['W1', 'W2', 'W3'])
  for (const { shape } of openings) for (const value of Object.values(shape)) expect(Number.isFinite(value)).toBe(true)
})

test('an area too small for anything is called cramped, not refused', () => {
  for (const area of [{ width: 0, height: 0 }, { width: 10, height: 10 }, { width: 60 }, { width: 300, height: 300 }]) {
    const layout = layoutHouse(houseOf(26, 'gable'), area)
    expect(elevationsOf(layout).flatMap(({ openings }) => openings)).toHaveLength(26)
    if (area.width < 100) expect(layout.cramped).toBe(true)
  }
})
