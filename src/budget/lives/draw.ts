/** A number from 0 up to, not including, 1. */
export type Random = () => number

/** Mulberry32 (public domain): the same seed gives the same numbers. For draws and shows, not for secrets. */
export function seeded(seed: number): Random {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296
  }
}

/** A standard normal number (Box & Muller 1958). */
export const gauss = (random: Random): number =>
  Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())

/** A gamma number of scale 1 (Marsaglia & Tsang 2000, from memory). */
export function gammaDraw(random: Random, shape: number): number {
  if (shape < 1) return gammaDraw(random, shape + 1) * (1 - random()) ** (1 / shape)
  const d = shape - 1 / 3
  for (;;) {
    const x = gauss(random)
    const v = (1 + x / Math.sqrt(9 * d)) ** 3
    if (v > 0 && Math.log(1 - random()) < (x * x) / 2 + d - d * v + d * Math.log(v)) return d * v
  }
}

/** Above this a Poisson number is drawn as a normal one: its chances differ by less than 1 %. */
const MANY = 200

/** A Poisson number. */
export function poissonDraw(random: Random, mean: number): number {
  if (mean > MANY) return Math.max(0, Math.round(mean + Math.sqrt(mean) * gauss(random)))
  const limit = Math.exp(-mean)
  let count = 0
  for (let product = random(); product > limit; product *= random()) count++
  return count
}
