import fc from 'fast-check'
import { expect, test } from 'vitest'
import { spread, wishedPlaces } from '../../../src/card/draw/spacing.ts'

test('without any given place the spacing is equal', () => {
  expect(wishedPlaces([undefined, undefined, undefined, undefined])).toEqual([0.125, 0.375, 0.625, 0.875])
})

test('given places stay, and missing ones take the widest gaps in their own order', () => {
  expect(wishedPlaces([0.5, undefined])).toEqual([0.5, 0.25])
  expect(wishedPlaces([undefined, 0.2, undefined])).toEqual([0.4, 0.2, 0.6])
  fc.assert(
    fc.property(
      fc.array(fc.option(fc.double({ min: 0, max: 1, noNaN: true }), { nil: undefined }), {
        minLength: 1,
        maxLength: 60,
      }),
      alongs => {
        const places = wishedPlaces(alongs)
        alongs.forEach((along, i) => {
          if (along !== undefined) expect(places[i]).toBe(along)
          expect(places[i]).toBeGreaterThanOrEqual(0)
          expect(places[i]).toBeLessThanOrEqual(1)
        })
        const fresh = places.filter((_, i) => alongs[i] === undefined)
        expect(fresh).toEqual(fresh.toSorted((a, b) => a - b))
      },
    ),
  )
})

// No published example: worked by hand. 3 and 2 pool to 2.5, then 5, 4 and 3 to 4.
test('slots without width are an isotonic regression', () => {
  expect(spread([1, 3, 2, 5, 4, 3], [0, 0, 0, 0, 0, 0], 0, 10)).toEqual([1, 2.5, 2.5, 4, 4, 4])
})

const rows = fc
  .array(
    fc.record({ wish: fc.double({ min: 0, max: 1, noNaN: true }), width: fc.double({ min: 5, max: 90, noNaN: true }) }),
    { minLength: 1, maxLength: 60 },
  )
  .map(row => row.toSorted((a, b) => a.wish - b.wish))

test('slots never overlap, keep their order, and stay between the ends where there is room', () => {
  fc.assert(
    fc.property(rows, fc.double({ min: 1, max: 3, noNaN: true }), (row, room) => {
      const widths = row.map(({ width }) => width)
      const length = widths.reduce((a, b) => a + b, 0) * room
      const centres = spread(
        row.map(({ wish }) => wish * length),
        widths,
        0,
        length,
      )
      centres.forEach((centre, i) => {
        expect(centre - widths[i]! / 2).toBeGreaterThanOrEqual(-1e-6)
        expect(centre + widths[i]! / 2).toBeLessThanOrEqual(length + 1e-6)
        if (i > 0) expect(centre - centres[i - 1]!).toBeGreaterThanOrEqual((widths[i]! + widths[i - 1]!) / 2 - 1e-6)
      })
    }),
  )
})

test('no allowed shift of a slot or of a run of slots comes nearer to the wishes', () => {
  fc.assert(
    fc.property(rows, row => {
      const widths = row.map(({ width }) => width)
      const length = widths.reduce((a, b) => a + b, 0) * 1.4
      const wishes = row.map(({ wish }) => wish * length)
      const centres = spread(wishes, widths, 0, length)
      const cost = (places: readonly number[]) => places.reduce((sum, place, i) => sum + (place - wishes[i]!) ** 2, 0)
      const allowed = (places: readonly number[]) =>
        places.every(
          (place, i) =>
            place - widths[i]! / 2 >= -1e-9 &&
            place + widths[i]! / 2 <= length + 1e-9 &&
            (i === 0 || place - places[i - 1]! >= (widths[i]! + widths[i - 1]!) / 2 - 1e-9),
        )
      for (let from = 0; from < centres.length; from++)
        for (const to of [from, centres.length - 1])
          for (const step of [-0.5, 0.5]) {
            const moved = centres.map((centre, i) => (i >= from && i <= to ? centre + step : centre))
            if (allowed(moved)) expect(cost(moved)).toBeGreaterThanOrEqual(cost(centres) - 1e-6)
          }
    }),
    { numRuns: 40 },
  )
})

test('slots that do not fit overrun the end and still do not overlap', () => {
  expect(spread([0, 0, 0], [10, 10, 10], 0, 12)).toEqual([5, 15, 25])
})
