/** Runs in the browser that takes the pictures: puts drawings on the page by name. */

import { html, render, svg } from 'lit'
import { layoutCurve } from '../../../src/card/draw/curve.ts'
import { DOUBTS_BY_WEIGHT as DOUBTS, drawDoubt } from '../../../src/card/draw/doubts.ts'
import { gatesLabel, layoutGates } from '../../../src/card/draw/gates.ts'
import { layoutHouse } from '../../../src/card/draw/layout.ts'
import { shapeHeight, shapeWidth } from '../../../src/card/draw/measure.ts'
import { shapesTemplate } from '../../../src/card/draw/nodes.ts'
import { drawOpening, type Shown } from '../../../src/card/draw/opening.ts'
import type { Area, House } from '../../../src/card/draw/plan.ts'
import { drawDay, drawMonths } from '../../../src/card/draw/story.ts'
import { drawingCss } from '../../../src/card/draw/style.ts'
import { pageTemplate, pictureTemplate } from '../../../src/card/draw/templates.ts'
import { tokensCss } from '../../../src/card/styles/tokens.ts'
import { POSITIONS } from '../../../src/protocol/reading.ts'
import type { StoryNote } from '../../../src/protocol/story.ts'
import { KINDS } from '../../../src/register/types.ts'

document.adoptedStyleSheets = [tokensCss.styleSheet!, drawingCss.styleSheet!, pageSheet()]

function pageSheet() {
  const sheet = new CSSStyleSheet()
  sheet.replaceSync(
    '*{margin:0;box-sizing:border-box}.sheet{background:var(--ink-paper);color:var(--ink-line);font:15px/1.35 var(--ink-font);padding:12px;display:inline-block;min-width:100%;min-height:100vh}.sheet.bare{padding:0}.sheet.one-ink{--ink-paper:#fff;--ink-face:#fff;--ink-line:#000;--ink-note:#000;--ink-faint:#000;--ink-open:#000;--ink-opened:#000;--ink-doubt:#000}.row{display:flex;gap:14px;align-items:center;padding:3px 0}.row>span{width:130px}',
  )
  return sheet
}

const root = document.createElement('div')
document.body.append(root)
const dress = (sheet: string) => {
  root.className = `sheet ${sheet}`
}

/** Every kind in every position; `unit` is the width of a plain window. */
export function kinds(sheet: string, unit: number) {
  dress(sheet)
  const cell = unit * 1.6 + 30
  const grid = KINDS.flatMap((kind, row) =>
    POSITIONS.map((position, column) => {
      const width = shapeWidth(kind, unit)
      const height = shapeHeight(kind, unit)
      return svg`<g transform="translate(${column * cell + (cell - width) / 2} ${row * (unit * 1.8 + 16) + 10 + unit * 1.66 - height})">${shapesTemplate(drawOpening(kind, position, width, height))}</g>`
    }),
  )
  render(html`<svg class="drawing" width=${cell * 5} height=${(unit * 1.8 + 16) * 7 + 10}>${grid}</svg>`, root)
}

/** A table for the tests: a row a kind, the five positions and then each doubt on a closed shape; `one-ink` makes all pens black. */
export function cells(sheet: string, unit: number, width: number, height: number) {
  dress(sheet === 'one-ink' ? 'paper' : sheet)
  root.classList.toggle('bare', true)
  root.classList.toggle('one-ink', sheet === 'one-ink')
  const table = KINDS.flatMap((kind, row) => {
    const w = shapeWidth(kind, unit)
    const h = shapeHeight(kind, unit)
    const drawings = [
      ...POSITIONS.map(position => drawOpening(kind, position, w, h)),
      ...DOUBTS.map(doubt => [...drawOpening(kind, 'closed', w, h), ...drawDoubt(doubt, kind, w, h)]),
    ]
    return drawings.map(
      (paths, column) =>
        svg`<g transform="translate(${column * width + Math.round((width - w) / 2)} ${row * height + Math.round((height - h) / 2)})">${shapesTemplate(paths)}</g>`,
    )
  })
  render(html`<svg class="drawing" width=${12 * width} height=${7 * height}>${table}</svg>`, root)
}

const picks: string[] = []
/** Marks that were picked since the last call. */
export const picked = () => picks.splice(0)

/** Every doubt around a window, a door and a hatch, in two positions. */
export function doubts(sheet: string, unit: number) {
  dress(sheet)
  const cell = unit * 1.6 + 30
  const rows = (['sash', 'door', 'hatch'] as const).flatMap(kind =>
    (['closed', 'opened'] as const).map(position => ({ kind, position })),
  )
  const grid = rows.flatMap(({ kind, position }, row) =>
    DOUBTS.map((doubt, column) => {
      const width = shapeWidth(kind, unit)
      const height = shapeHeight(kind, unit)
      return svg`<g transform="translate(${column * cell + (cell - width) / 2} ${row * (unit * 1.8 + 20) + 12 + unit * 1.66 - height})">${shapesTemplate([...drawOpening(kind, position, width, height), ...drawDoubt(doubt, kind, width, height)])}</g>`
    }),
  )
  render(
    html`<svg class="drawing" width=${cell * 7} height=${(unit * 1.8 + 20) * rows.length + 12}>${grid}</svg>`,
    root,
  )
}

export function wall(
  sheet: string,
  house: House,
  area: Area,
  readings: readonly (readonly [string, Shown])[],
  page = 0,
  tags: 'noted' | 'all' = 'noted',
) {
  dress(sheet)
  const layout = layoutHouse(house, area)
  const shown = new Map(readings)
  render(
    pageTemplate(layout, layout.pages[page]!, {
      label: 'Elevations',
      caption: ({ side, part, parts }) => `${side} elevation${parts > 1 ? `, part ${part + 1} of ${parts}` : ''}`,
      level: String,
      shown: mark => shown.get(mark),
      openingLabel: mark => mark,
      pick: mark => picks.push(mark),
      tags,
    }),
    root,
  )
  return { shape: layout.shape, pages: layout.pages.length, cramped: layout.cramped, height: layout.height }
}

export function small(sheet: string) {
  dress(sheet)
  const gates = [
    { sends: 8, left: { p05: 2, p50: 12, p95: 29 } },
    { sends: 0, left: { p05: 7, p50: 20, p95: 39 } },
    { sends: 18, left: { p05: 0, p50: 7, p95: 25 } },
    { sends: 120, left: { p05: 200, p50: 350, p95: 700 } },
    { sends: 37 },
  ]
  const now = Date.UTC(2026, 9, 25, 21)
  const story: StoryNote = {
    v: 1,
    mark: 'W02',
    months: Array.from({ length: 13 }, (_, n) => ({
      month: new Date(Date.UTC(2025, 9 + n, 1)).toISOString().slice(0, 7),
      openings: (n * 5) % 9,
      listened: [0.4, 1, 1, 0.7, 1, 1, 1, 1, 0, 1, 1, 1, 0.8][n]!,
    })),
    openings: [
      ['2026-10-25T06:00:00.000Z', '2026-10-25T07:00:00.000Z'],
      ['2026-10-25T09:00:00.000Z', null, '2026-10-25T12:00:00.000Z'],
      ['2026-10-25T15:00:00.000Z'],
    ],
    cells: [
      { fitted: '2026-03-01T10:00:00.000Z', sends: 19, ended: '2026-10-25T13:18:00.000Z' },
      { fitted: '2026-10-25T13:18:00.000Z', sends: 1 },
    ],
    unheard: [['2026-10-25T00:00:00.000Z', '2026-10-25T04:30:00.000Z']],
  }
  const timezone = 'Europe/Lisbon'
  const points = Array.from({ length: 41 }, (_, n) => ({ sends: n, chance: Math.exp(-((n / 22) ** 3)) }))
  const curve = {
    points,
    cells: [
      { sends: 19, died: true },
      { sends: 23, died: true },
      { sends: 12, died: false },
      { sends: 19, died: true },
    ],
    sends: 8,
  }
  render(
    html`${gates.map(facts => html`<div class="row">${pictureTemplate(layoutGates(facts, 330), gatesLabel(facts))}${gatesLabel(facts)}</div>`)}
      <div class="row">${pictureTemplate(drawDay(story, { at: now, timezone, width: 560, saysShut: false }), 'day')}</div>
      <div class="row">${pictureTemplate(drawMonths(story, { at: now, timezone, width: 560, locale: 'de' }), 'year')}</div>
      <div class="row">${pictureTemplate(layoutCurve(curve, 460, 200, { axis: 'opening number' }), 'curve')}</div>`,
    root,
  )
}
