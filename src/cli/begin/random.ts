import type { Random } from '../../budget/lives/draw.ts'

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
