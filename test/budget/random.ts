/** Seeded uniform numbers in [0, 1): mulberry32, public domain. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) >>> 0
    let t = Math.imul(a ^ (a >>> 15), a | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}

/** A standard normal number from two uniform ones (Box & Muller 1958). */
export const gauss = (random: () => number): number =>
  Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())

/** Chance of a Kolmogorov-Smirnov distance at least so large for uniform values (Stephens 1970). */
export function uniformChance(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  const n = sorted.length
  const distance = sorted.reduce((most, u, i) => Math.max(most, u - i / n, (i + 1) / n - u), 0)
  const t = (Math.sqrt(n) + 0.12 + 0.11 / Math.sqrt(n)) * distance
  let sum = 0
  for (let j = 1; j <= 100; j++) sum += 2 * (j % 2 ? 1 : -1) * Math.exp(-2 * j * j * t * t)
  return Math.min(1, Math.max(0, sum))
}
