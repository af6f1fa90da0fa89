/** The next order of a list, and what has to be moved or put in to reach it. */
export interface Step {
  readonly order: readonly string[]
  readonly placed: ReadonlySet<string>
  /** True when the wished order stands. */
  readonly done: boolean
}

/**
 * One step from the order that stands toward the wished one. New keys take their places at once; of the others as few
 * move as can, those first that belong first.
 * @param most - moves allowed in this step, 1 or more
 * @param held - a key that is not moved while it is wished for: others move round it
 */
export function stepToward(standing: readonly string[], wished: readonly string[], most: number, held?: string): Step {
  if (standing.every((key, index) => key === wished[index]))
    return { order: wished, placed: new Set(wished.slice(standing.length)), done: true }
  const moved = onlyMoved(standing, wished)
  if (moved !== undefined && moved !== held) return { order: wished, placed: new Set([moved]), done: true }
  const places = new Map(wished.map((key, index) => [key, index]))
  const old = standing.filter(key => places.has(key))
  const stays = longestRise(
    old.map(key => places.get(key)!),
    held === undefined ? -1 : old.indexOf(held),
  )
  const isStill = new Set([...stays].map(index => old[index]!))
  const isOld = new Set(old)
  const placed = new Set<string>()
  let spare = most
  let done = true
  const behind = new Map<string | undefined, string[]>()
  let before: string | undefined
  for (const key of wished) {
    if (isStill.has(key)) {
      before = key
      continue
    }
    if (isOld.has(key) && spare-- <= 0) {
      done = false
      continue
    }
    placed.add(key)
    const group = behind.get(before)
    if (group) group.push(key)
    else behind.set(before, [key])
  }
  const rest = old.filter(key => !placed.has(key))
  const order = [...(behind.get(undefined) ?? []), ...rest.flatMap(key => [key, ...(behind.get(key) ?? [])])]
  return { order, placed, done }
}

/** The one key that stands elsewhere than wished, the others being in order: what most often happens. */
function onlyMoved(standing: readonly string[], wished: readonly string[]): string | undefined {
  if (standing.length !== wished.length) return undefined
  const first = standing.findIndex((key, index) => key !== wished[index])
  if (first < 0) return undefined
  const last = standing.findLastIndex((key, index) => key !== wished[index])
  const shifted = (from: readonly string[], to: readonly string[]): boolean => {
    for (let index = first; index < last; index++) if (from[index + 1] !== to[index]) return false
    return from[first] === to[last]
  }
  if (shifted(standing, wished)) return standing[first]
  return shifted(wished, standing) ? standing[last] : undefined
}

/**
 * Indices of a longest run of rising numbers, not necessarily neighbours.
 * @param through - index that must be in it; -1 for none
 */
function longestRise(numbers: readonly number[], through: number): ReadonlySet<number> {
  const pivot = numbers[through]
  /** Index of the lowest end of a run of each length. */
  const ends: number[] = []
  const before: number[] = []
  for (const [index, number] of numbers.entries()) {
    if (pivot !== undefined && index !== through && index < through !== number < pivot) continue
    let [low, high] = [0, ends.length]
    while (low < high) {
      const middle = (low + high) >> 1
      if (numbers[ends[middle]!]! < number) low = middle + 1
      else high = middle
    }
    before[index] = low > 0 ? ends[low - 1]! : -1
    ends[low] = index
  }
  const run = new Set<number>()
  for (let index = ends.at(-1) ?? -1; index >= 0; index = before[index]!) run.add(index)
  return run
}
