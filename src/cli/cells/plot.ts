import { escapeHtml } from '../../text/html.ts'

/** A small plot as SVG text: axes, lines, steps, bands, dots and level lines. All text is escaped. */
export interface Plot {
  readonly title: string
  /** What the picture says, for a reader who cannot see it. */
  readonly description?: string
  readonly x: Axis
  readonly y: Axis
  readonly series: readonly Series[]
}

export interface Axis {
  readonly label: string
  /** Default: the least and the greatest value of the series. */
  readonly from?: number
  readonly to?: number
}

type Point = readonly [x: number, y: number]

export type Series =
  | {
      readonly kind: 'line' | 'steps' | 'dots'
      readonly label: string
      readonly points: readonly Point[]
      readonly dashed?: boolean
    }
  | {
      readonly kind: 'band'
      readonly label: string
      readonly lower: readonly Point[]
      readonly upper: readonly Point[]
    }
  | { readonly kind: 'level'; readonly label: string; readonly y: number }

const WIDTH = 720
const HEIGHT = 420
const LEFT = 70
const RIGHT = 24
const TOP = 44
const BOTTOM = 96
const INKS = ['#1f3a5f', '#8a3b12', '#2f6b3c', '#5b3a7a']

/** Round numbers between two values, about `count` of them. */
export function ticks(from: number, to: number, count = 6): number[] {
  const raw = (to - from) / count
  const power = 10 ** Math.floor(Math.log10(raw))
  const step = power * ([1, 2, 5, 10].find(times => times * power >= raw * 0.999) ?? 10)
  const digits = Math.max(0, -Math.floor(Math.log10(step)))
  const list: number[] = []
  for (let i = Math.ceil(from / step - 1e-9); i * step <= to + step * 1e-9; i++)
    list.push(Number((i * step).toFixed(digits)))
  return list
}

const pointsOf = (series: Series): readonly Point[] =>
  series.kind === 'band' ? [...series.lower, ...series.upper] : series.kind === 'level' ? [] : series.points

function extent(axis: Axis, values: readonly number[]): [from: number, to: number] {
  const known = values.filter(Number.isFinite)
  const from = axis.from ?? known.reduce((least, value) => Math.min(least, value), known[0] ?? 0)
  const to = axis.to ?? known.reduce((most, value) => Math.max(most, value), known[0] ?? 1)
  return to > from ? [from, to] : [from - 0.5, from + 0.5]
}

/**
 * Draws a plot.
 * @returns a whole SVG document, 720 by 420; points that are not finite are left out
 */
export function plotSvg(plot: Plot): string {
  const all = plot.series.flatMap(pointsOf)
  const levels = plot.series.flatMap(series => (series.kind === 'level' ? [series.y] : []))
  const [x0, x1] = extent(
    plot.x,
    all.map(point => point[0]),
  )
  const [y0, y1] = extent(plot.y, [...all.map(point => point[1]), ...levels])
  const across = (x: number): number => LEFT + ((x - x0) / (x1 - x0)) * (WIDTH - LEFT - RIGHT)
  const up = (y: number): number => HEIGHT - BOTTOM - ((y - y0) / (y1 - y0)) * (HEIGHT - TOP - BOTTOM)
  const at = ([x, y]: Point): string => `${across(x).toFixed(1)},${up(y).toFixed(1)}`
  const finite = (points: readonly Point[]): Point[] =>
    points.filter(([x, y]) => Number.isFinite(x) && Number.isFinite(y))
  const out: string[] = [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}" role="img" aria-labelledby="t d" font-family="sans-serif" font-size="12">`,
    `<title id="t">${escapeHtml(plot.title)}</title>`,
    `<desc id="d">${escapeHtml(plot.description ?? plot.title)}</desc>`,
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="#fbf8f1"/>`,
    `<text x="${LEFT}" y="24" font-size="15">${escapeHtml(plot.title)}</text>`,
    `<clipPath id="c"><rect x="${LEFT}" y="${TOP}" width="${WIDTH - LEFT - RIGHT}" height="${HEIGHT - TOP - BOTTOM}"/></clipPath>`,
  ]
  for (const x of ticks(x0, x1)) {
    out.push(`<path d="M${at([x, y0])}V${TOP}" stroke="#ddd6c6"/>`)
    out.push(`<text x="${across(x).toFixed(1)}" y="${HEIGHT - BOTTOM + 16}" text-anchor="middle">${x}</text>`)
  }
  for (const y of ticks(y0, y1)) {
    out.push(`<path d="M${at([x0, y])}H${WIDTH - RIGHT}" stroke="#ddd6c6"/>`)
    out.push(`<text x="${LEFT - 6}" y="${(up(y) + 4).toFixed(1)}" text-anchor="end">${y}</text>`)
  }
  out.push(`<path d="M${LEFT},${TOP}V${HEIGHT - BOTTOM}H${WIDTH - RIGHT}" fill="none" stroke="#333"/>`)
  const middle = (LEFT + WIDTH - RIGHT) / 2
  out.push(`<text x="${middle}" y="${HEIGHT - BOTTOM + 34}" text-anchor="middle">${escapeHtml(plot.x.label)}</text>`)
  const half = (TOP + HEIGHT - BOTTOM) / 2
  out.push(
    `<text transform="translate(16 ${half}) rotate(-90)" text-anchor="middle">${escapeHtml(plot.y.label)}</text>`,
  )
  plot.series.forEach((series, index) => {
    const ink = INKS[index % INKS.length] ?? '#333'
    out.push(`<g clip-path="url(#c)">${drawn(series, ink, at, finite, up)}</g>`, key(series, ink, index))
  })
  return `${out.join('\n')}\n</svg>\n`
}

function drawn(
  series: Series,
  ink: string,
  at: (point: Point) => string,
  finite: (points: readonly Point[]) => Point[],
  up: (y: number) => number,
): string {
  switch (series.kind) {
    case 'level':
      return `<path d="M${LEFT},${up(series.y).toFixed(1)}H${WIDTH - RIGHT}" stroke="${ink}" stroke-dasharray="2 4" stroke-width="1.5"/>`
    case 'band': {
      const round = [...finite(series.lower), ...finite(series.upper).reverse()].map(at)
      return `<polygon points="${round.join(' ')}" fill="${ink}" fill-opacity="0.14"/>`
    }
    case 'dots':
      return finite(series.points)
        .map(point => `<circle r="3.5" cx="${at(point).replace(',', '" cy="')}" fill="${ink}"/>`)
        .join('')
    default: {
      const points = finite(series.points)
      const steps = points.flatMap((point, i): Point[] => {
        const before = points[i - 1]
        return series.kind === 'steps' && before ? [[point[0], before[1]], point] : [point]
      })
      const dashed = series.dashed ? ' stroke-dasharray="7 4"' : ''
      return `<polyline points="${steps.map(at).join(' ')}" fill="none" stroke="${ink}" stroke-width="2"${dashed}/>`
    }
  }
}

function key(series: Series, ink: string, index: number): string {
  const x = LEFT + (index % 2) * 320
  const y = HEIGHT - BOTTOM + 54 + Math.floor(index / 2) * 18
  const sample =
    series.kind === 'band'
      ? `<rect x="${x}" y="${y - 9}" width="22" height="10" fill="${ink}" fill-opacity="0.2"/>`
      : series.kind === 'dots'
        ? `<circle cx="${x + 11}" cy="${y - 4}" r="3.5" fill="${ink}"/>`
        : `<path d="M${x},${y - 4}h22" stroke="${ink}" stroke-width="2"${series.kind === 'level' ? ' stroke-dasharray="2 4"' : series.kind === 'line' && series.dashed ? ' stroke-dasharray="7 4"' : ''}/>`
  return `${sample}<text x="${x + 28}" y="${y}">${escapeHtml(series.label)}</text>`
}
