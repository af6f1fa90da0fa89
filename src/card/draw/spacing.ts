import { clamp } from '../../text/clamp.ts'
import { sorted } from '../../text/lists.ts'

/** Placement of openings along one floor of one side: order kept, gaps kept, as near as possible to where they really are. */

/**
 * Wished places, 0 to 1: given ones stay, missing ones take the middles of the widest gaps, in the order of the list.
 * Without any given place the spacing is equal.
 */
export function wishedPlaces(alongs: readonly (number | undefined)[]): readonly number[] {
  const missing = alongs.filter(along => along === undefined).length
  if (missing === alongs.length) return alongs.map((_, i) => (i + 0.5) / alongs.length)
  const taken = sorted(
    alongs.filter(along => along !== undefined),
    (a, b) => a - b,
  )
  const fresh: number[] = []
  for (let n = 0; n < missing; n++) {
    const stops = [0, ...taken, 1]
    let widest = 0
    for (let i = 1; i < stops.length - 1; i++) if (gap(stops, i) > gap(stops, widest) + 1e-9) widest = i
    const place = (stops[widest]! + stops[widest + 1]!) / 2
    fresh.push(place)
    taken.splice(widest, 0, place)
  }
  fresh.sort((a, b) => a - b)
  let next = 0
  return alongs.map(along => along ?? fresh[next++]!)
}

const gap = (stops: readonly number[], i: number) => stops[i + 1]! - stops[i]!

/**
 * Centres of slots on a line: least squares from the wished centres, never closer than half the sum of two widths.
 * Isotonic regression by pooling adjacent violators, then clamped to the ends
 * (Best and Chakravarti, Mathematical Programming 47, 1990, for the regression).
 * @param wishes - wished centres in ascending order
 * @param widths - slot widths, same length
 * @returns centres; when the slots do not fit between `from` and `to` they overrun `to`, still without overlap
 */
export function spread(wishes: readonly number[], widths: readonly number[], from: number, to: number): number[] {
  const offsets: number[] = []
  let sum = 0
  for (let i = 0; i < wishes.length; i++) {
    if (i > 0) sum += (widths[i - 1]! + widths[i]!) / 2
    offsets.push(sum)
  }
  const blocks: { mean: number; count: number }[] = []
  for (let i = 0; i < wishes.length; i++) {
    let block = { mean: wishes[i]! - offsets[i]!, count: 1 }
    for (let last = blocks.at(-1); last && last.mean > block.mean; last = blocks.at(-1)) {
      blocks.pop()
      const count = last.count + block.count
      block = { mean: (last.mean * last.count + block.mean * block.count) / count, count }
    }
    blocks.push(block)
  }
  const low = from + (widths[0] ?? 0) / 2
  const high = Math.max(low, to - (widths.at(-1) ?? 0) / 2 - sum)
  const bases = blocks.flatMap(block => Array<number>(block.count).fill(clamp(block.mean, low, high)))
  return bases.map((base, i) => base + offsets[i]!)
}
