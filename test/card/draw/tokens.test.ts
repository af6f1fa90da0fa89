import { describe, expect, test } from 'vitest'
import { type Colours, SHEETS, SIZES } from '../../../src/card/styles/colours.ts'
import { tokensCss } from '../../../src/card/styles/tokens.ts'
import { contrast } from './sight.ts'

// WCAG 2.2 itself names the ends of the scale: black on white is 21:1. The grey is the lightest that still passes on
// white in common use (#767676, 4.54:1; common practice).
test('contrast is computed as WCAG 2.2 defines it', () => {
  expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 5)
  expect(contrast('#767676', '#ffffff')).toBeCloseTo(4.54, 2)
  expect(contrast('#777777', '#ffffff')).toBeLessThan(4.5)
})

const TEXT = ['line', 'note', 'open', 'opened', 'doubt'] as const satisfies readonly (keyof Colours)[]
const GRAPHICS = [...TEXT, 'faint'] as const satisfies readonly (keyof Colours)[]

describe.each(
  Object.entries(SHEETS).flatMap(([sheet, times]) =>
    Object.entries(times).map(([time, colours]) => [`${sheet} by ${time}`, colours] as const),
  ),
)('%s', (_, colours: Colours) => {
  // 1.4.3 Contrast (Minimum), level AA
  test.each(TEXT)('text in %s has 4.5 on paper and on a wall', name => {
    expect(contrast(colours[name], colours.paper)).toBeGreaterThanOrEqual(4.5)
    expect(contrast(colours[name], colours.face)).toBeGreaterThanOrEqual(4.5)
  })
  test('the text of an open tag has 4.5 on its fill', () => {
    expect(contrast(colours.onOpen, colours.open)).toBeGreaterThanOrEqual(4.5)
  })
  // 1.4.11 Non-text Contrast, level AA
  test.each(GRAPHICS)('lines in %s have 3 on paper and on a wall', name => {
    expect(contrast(colours[name], colours.paper)).toBeGreaterThanOrEqual(3)
    expect(contrast(colours[name], colours.face)).toBeGreaterThanOrEqual(3)
  })
  test('a line on the band of the curve still has 3', () => {
    expect(contrast(colours.line, colours.ghost)).toBeGreaterThanOrEqual(3)
  })
})

test('a night sheet gives off less light than its day', () => {
  for (const { day, night } of Object.values(SHEETS)) {
    expect(contrast(night.paper, '#000000')).toBeLessThan(contrast(day.paper, '#000000'))
    expect(contrast(night.paper, '#000000')).toBeLessThan(1.5)
  }
  expect(contrast(SHEETS.blueprint.night.line, '#000000')).toBeLessThan(contrast(SHEETS.blueprint.day.line, '#000000'))
})

test('every colour is in the style, may be overridden, and gives way to forced colours', () => {
  const text = tokensCss.cssText
  for (const times of Object.values(SHEETS))
    for (const colours of Object.values(times))
      for (const value of Object.values(colours)) expect(text).toMatch(new RegExp(`var\\(--sash-[a-z-]+, ${value}\\)`))
  const forced = text.slice(text.indexOf('forced-colors'))
  expect(forced).toContain('--ink-paper: Canvas;')
  expect(forced).not.toContain('#')
})

// 2.5.8 Target Size (Minimum) asks for 24; 44 is 2.5.5 (Enhanced).
test('sizes are those of a wall: 40 px and more for the headline, 44 px for fingers', () => {
  expect(SIZES.headline).toBeGreaterThanOrEqual(40)
  expect(SIZES.target).toBeGreaterThanOrEqual(44)
})
