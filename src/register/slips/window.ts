import { isContent, type Lines } from './guess.ts'

/** Items of a list that are kept on each side of a place. */
const ITEMS_BESIDE = 3

/** The nearest lines above that hold something, nearest first. */
export function contentBefore(lines: Lines, place: number, most: number): number[] {
  const found: number[] = []
  for (let at = place - 1; at >= 0 && found.length < most; at--) if (isContent(lines[at])) found.push(at)
  return found
}

const isTop = (line: string): boolean => /^[^\s#-]/.test(line)

/** From the line of a top-level key that holds a place to the one before the next. */
export function sectionOf(lines: Lines, place: number): [from: number, to: number] {
  let from = Math.min(place, lines.length - 1)
  while (from > 0 && !isTop(lines[from]!)) from--
  let to = Math.min(place + 1, lines.length)
  while (to < lines.length && !isTop(lines[to]!)) to++
  return [from, to]
}

/** The text with only what stands beside some places: all other lines are empty, so that every line keeps its number. */
export function thinned(lines: Lines, places: readonly number[]): Lines {
  const kept = new Set<number>()
  for (const place of places) {
    const [from, to] = sectionOf(lines, place)
    const items: number[] = []
    for (let at = from + 1; at < to; at++) if (/^\s*- /.test(lines[at]!)) items.push(at)
    const own = items.filter(at => at <= place).length
    const first = items[own - 1 - ITEMS_BESIDE] ?? from
    const last = items[own + ITEMS_BESIDE] ?? to
    for (let at = first; at < last; at++) kept.add(at)
    kept.add(from)
  }
  return lines.map((line, at) => (kept.has(at) ? line : ''))
}
