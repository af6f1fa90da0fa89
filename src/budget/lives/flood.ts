/** Heights under this share of the top are left out: together they move no quantile by 0.5 %. */
const NEGLIGIBLE = 5e-5
/** No lattice reaches further, or has more points: lives that contradict each other leave a ridge without an end. */
const FURTHEST = 500
const MOST_POINTS = 8_000

const STEPS = [
  [1, 0, 0],
  [-1, 0, 0],
  [0, 1, 0],
  [0, -1, 0],
  [0, 0, 1],
  [0, 0, -1],
] as const

/**
 * Points of a lattice from its origin outwards, for as long as they count against the highest: as wide as a peak is,
 * whatever its form.
 * @param measure - a point with the logarithm of its height; undefined where there is none
 */
export function flood<T extends { readonly height: number }>(
  measure: (i: number, j: number, l: number) => T | undefined,
): T[] {
  const seen = new Set<number>()
  const found: T[] = []
  const queue: (readonly [number, number, number])[] = []
  const add = (i: number, j: number, l: number): void => {
    const key = ((i + 512) * 1024 + j + 512) * 1024 + l + 512
    if (seen.has(key) || Math.max(Math.abs(i), Math.abs(j), Math.abs(l)) > FURTHEST) return
    seen.add(key)
    queue.push([i, j, l])
  }
  const floor = Math.log(NEGLIGIBLE)
  let top = Number.NEGATIVE_INFINITY
  add(0, 0, 0)
  for (let next = 0; next < queue.length && found.length < MOST_POINTS; next++) {
    const [i, j, l] = queue[next]!
    const point = measure(i, j, l)
    if (!point || !(point.height > top + floor)) continue
    top = Math.max(top, point.height)
    found.push(point)
    for (const [di, dj, dl] of STEPS) add(i + di, j + dj, l + dl)
  }
  return found.filter(({ height }) => height > top + floor)
}
