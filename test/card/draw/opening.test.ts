import { PNG } from 'pngjs'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { DOUBTS_BY_WEIGHT as DOUBTS, drawDoubt, gravest } from '../../../src/card/draw/doubts.ts'
import { drawOpening, drawTag, isNoted } from '../../../src/card/draw/opening.ts'
import { POSITIONS, type Position } from '../../../src/protocol/reading.ts'
import { KINDS } from '../../../src/register/types.ts'
import { openStage, type Stage } from './browser.mjs'
import { blur, DEFICIENCIES, type Deficiency, lightnessFor } from './sight.ts'

const UNIT = 26
const CELL = { width: 64, height: 64 }
const SHEETS = ['paper', 'paper night', 'blueprint', 'blueprint night']
const EYES: readonly (Deficiency | undefined)[] = [undefined, ...(Object.keys(DEFICIENCIES) as Deficiency[])]
/** Normal sight resolves 1 minute of arc; at 3 m that is 5.2 px of the tablet, taken as the width at half height. */
const SIGMA_AT_3_M = 5.2 / 2.355

let stage: Stage
const pictures = new Map<string, PNG>()
beforeAll(async () => {
  stage = await openStage()
  for (const sheet of [...SHEETS, 'one-ink']) {
    await stage.page.setViewport({ width: CELL.width * 12, height: CELL.height * 7 })
    await stage.cells(sheet, UNIT, CELL.width, CELL.height)
    pictures.set(sheet, PNG.sync.read(Buffer.from(await stage.page.screenshot())))
  }
})
afterAll(() => stage?.close())

/** One cell as lightness: columns 0 to 4 are the positions, 5 to 11 the doubts on a closed shape. */
function cellOf(sheet: string, row: number, column: number, eye?: Deficiency): number[][] {
  const { data, width } = pictures.get(sheet)!
  return Array.from({ length: CELL.height }, (_, y) =>
    Array.from({ length: CELL.width }, (_, x) => {
      const at = ((row * CELL.height + y) * width + column * CELL.width + x) * 4
      return lightnessFor([data[at]!, data[at + 1]!, data[at + 2]!], eye)
    }),
  )
}

const pairs = (count: number) =>
  Array.from({ length: count }, (_, i) => Array.from({ length: i }, (_, j) => [j, i] as const)).flat()

/** Largest difference of lightness, 0 to 100. */
const difference = (a: number[][], b: number[][]) =>
  Math.max(...a.map((row, y) => Math.max(...row.map((value, x) => Math.abs(value - b[y]![x]!)))))

test('the simulation keeps greys grey', () => {
  for (const rows of Object.values(DEFICIENCIES))
    for (const row of rows) expect(row[0] + row[1] + row[2]).toBeCloseTo(1, 5)
  expect(lightnessFor([119, 119, 119], 'tritanopia')).toBeCloseTo(lightnessFor([119, 119, 119]), 3)
})

/** Least difference over all kinds, sheets and eyes, of the pairs that a test asks for. */
function leastDifference(asks: (a: Position, b: Position) => boolean): { least: number; where: string } {
  let least = Number.POSITIVE_INFINITY
  let where = ''
  for (const sheet of SHEETS)
    for (const eye of EYES)
      KINDS.forEach((kind, row) => {
        const seen = POSITIONS.map((_, column) => blur(cellOf(sheet, row, column, eye), SIGMA_AT_3_M))
        for (const [a, b] of pairs(POSITIONS.length)) {
          if (!asks(POSITIONS[a]!, POSITIONS[b]!)) continue
          const found = difference(seen[a]!, seen[b]!)
          if (found >= least) continue
          least = found
          where = `${kind}: ${POSITIONS[a]} and ${POSITIONS[b]} on ${sheet} with ${eye ?? 'normal sight'}`
        }
      })
  return { least, where }
}
const mayBeOpen = (position: Position) => position === 'open' || position === 'opened'

// Lightness alone is the hardest case: no hue. A just noticeable difference is about 1 in CIE lightness for large
// fields; 8 and 15 for small signs are common practice, without a source.
test('the five positions of every kind differ from 3 m in grey and to each colour-vision deficiency, on every sheet', () => {
  const { least, where } = leastDifference(() => true)
  expect(least, where).toBeGreaterThanOrEqual(8)
})

test('what may be open stands out from what is not, twice as clearly', () => {
  const { least, where } = leastDifference((a, b) => mayBeOpen(a) !== mayBeOpen(b))
  expect(least, where).toBeGreaterThanOrEqual(15)
})

test('with one ink for everything the geometry alone tells the positions apart', () => {
  KINDS.forEach((kind, row) => {
    const inked = POSITIONS.map((_, column) =>
      cellOf('one-ink', row, column).map(line => line.map(value => value < 60)),
    )
    for (const [a, b] of pairs(POSITIONS.length)) {
      let both = 0
      let either = 0
      inked[a]!.forEach((line, y) => {
        line.forEach((ink, x) => {
          const other = inked[b]![y]![x]!
          if (ink && other) both++
          if (ink || other) either++
        })
      })
      expect(both / either, `${kind}: ${POSITIONS[a]} and ${POSITIONS[b]}`).toBeLessThan(0.8)
    }
  })
})

test('what may be open is the heaviest: more ink in the gap than any other position has there', () => {
  KINDS.forEach((kind, row) => {
    const ink = POSITIONS.map(
      (_, column) =>
        cellOf('one-ink', row, column)
          .flat()
          .filter(value => value < 60).length,
    )
    const [open, opened, closed, taken, noWord] = ink as [number, number, number, number, number]
    expect(open, kind).toBeGreaterThan(opened)
    expect(Math.min(open, opened), kind).toBeGreaterThan(Math.max(taken, noWord))
    expect(closed, kind).toBeGreaterThan(noWord)
  })
})

test('each doubt has an outline of its own, and none changes the shape inside', () => {
  KINDS.forEach((kind, row) => {
    const cells = DOUBTS.map((_, i) => cellOf('one-ink', row, POSITIONS.length + i))
    for (const [a, b] of pairs(DOUBTS.length)) {
      let differing = 0
      cells[a]!.forEach((line, y) => {
        line.forEach((value, x) => {
          if (value < 60 !== cells[b]![y]![x]! < 60) differing++
        })
      })
      expect(differing, `${kind}: ${DOUBTS[a]} and ${DOUBTS[b]}`).toBeGreaterThan(25)
    }
    expect(drawOpening(kind, 'closed', 30, 40)).toEqual(drawOpening(kind, 'closed', 30, 40))
  })
})

test('a kind or a position of a later version is drawn as a window without a word', () => {
  expect(drawOpening('porthole' as 'window', 'ajar' as 'open', 30, 40)).toEqual(
    drawOpening('window', 'no-word', 30, 40),
  )
  expect(drawDoubt('damp' as 'low', 'window', 30, 40)).toEqual(drawDoubt('untested', 'window', 30, 40))
})

test('the gravest doubt is outlined, and every noted opening carries its tag', () => {
  expect(gravest(['reflash', 'untested', 'faint'])).toBe('faint')
  expect(gravest(['low', 'spent'])).toBe('spent')
  expect(gravest([])).toBeUndefined()
  expect(POSITIONS.filter(position => isNoted(position, []))).toEqual(['open', 'opened', 'no-word'])
  expect(isNoted('closed', ['untested'])).toBe(true)
  // A short cell says nothing of the window: a line under its sill tells of it.
  expect(isNoted('closed', ['low', 'reflash'])).toBe(false)
  expect(gravest(['low', 'reflash'])).toBeUndefined()
})

test('a tag says by its corners what kind it is', () => {
  const box = { x: 0, y: 0, width: 40, height: 16 }
  const outlines = (['window', 'door', 'hatch'] as const).map(kind => drawTag(kind, 'closed', [], 'W01', box)[0])
  expect(new Set(outlines.map(shape => ('d' in shape! ? shape.d : ''))).size).toBe(3)
})

test('the markup holds under a policy without inline styles, and every opening is a named button', async () => {
  await stage.page.setViewport({ width: 870, height: 610 })
  await stage.wall('paper', 'house', 26, 'gable', 836, 580)
  const found = await stage.page.evaluate(() => ({
    styled: document.querySelectorAll('[style], style').length,
    buttons: [...document.querySelectorAll('.opening')].map(g => [
      g.getAttribute('role'),
      g.getAttribute('tabindex'),
      g.getAttribute('aria-label') !== '',
    ]),
    groups: [...document.querySelectorAll('.drawing > g')].map(g => g.getAttribute('aria-label')),
  }))
  expect(found.styled).toBe(0)
  await stage.small('blueprint')
  expect(await stage.violations()).toEqual([])
  await stage.page.evaluate(() => document.body.setAttribute('style', 'margin: 1px'))
  expect(await stage.violations(), 'the policy is in force').toHaveLength(1)
  await stage.page.evaluate(() => document.body.removeAttribute('style'))
  expect(found.buttons).toHaveLength(26)
  expect(new Set(found.buttons.map(String))).toEqual(new Set(['button,0,true']))
  expect(found.groups).toEqual(['south elevation', 'east elevation', 'north elevation', 'west elevation'])
})

test('a click, Enter and Space pick an opening, and only that one', async () => {
  await stage.wall('paper', 'house', 26, 'gable', 836, 580)
  await stage.page.click('[data-mark=W14]')
  await stage.page.evaluate(() => document.querySelector<SVGElement>('[data-mark=W22]')!.focus())
  await stage.page.keyboard.press('Enter')
  await stage.page.keyboard.press('Space')
  await stage.page.keyboard.press('a')
  expect(await stage.picked()).toEqual(['W14', 'W22', 'W22'])
})

test('right-to-left text around it does not mirror the drawing', async () => {
  const places = () =>
    stage.page.evaluate(() =>
      [...document.querySelectorAll('.opening .hit')].map(
        rect => rect.getBoundingClientRect().x - rect.closest('svg')!.getBoundingClientRect().x,
      ),
    )
  const texts = () =>
    stage.page.evaluate(() =>
      [...document.querySelectorAll('.drawing text')].map(text =>
        Math.round(text.getBoundingClientRect().x - text.closest('svg')!.getBoundingClientRect().x),
      ),
    )
  await stage.wall('paper', 'house', 26, 'gable', 836, 580)
  const before = [await places(), await texts()]
  await stage.page.evaluate(() => {
    document.documentElement.dir = 'rtl'
  })
  expect([await places(), await texts()]).toEqual(before)
  await stage.page.evaluate(() => {
    document.documentElement.dir = 'ltr'
  })
})
