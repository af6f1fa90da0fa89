/** A number from 0 up to, not including, 1. */
export type Random = () => number

/** Mulberry32: the same seed gives the same numbers. For a show, not for secrets. */
export function seeded(seed: number): Random {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296
  }
}

export const pick = <T>(random: Random, all: readonly T[]): T => all[Math.floor(random() * all.length)]!

/** A copy in another order (Fisher and Yates). */
export function shuffled<T>(random: Random, all: readonly T[]): T[] {
  const out = [...all]
  for (let last = out.length - 1; last > 0; last--) {
    const other = Math.floor(random() * (last + 1))
    ;[out[last], out[other]] = [out[other]!, out[last]!]
  }
  return out
}
