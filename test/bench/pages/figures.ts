// How the wall's benchmarks say their figures.
export const quantile = (list: readonly number[], p: number): number => {
  const sorted = [...list].sort((a, b) => a - b)
  return sorted[Math.min(sorted.length - 1, Math.floor(p * sorted.length))] ?? Number.NaN
}
export const median = (list: readonly number[]): number => quantile(list, 0.5)
export const ms = (value: number): string => `${value.toFixed(1)} ms`
export const times = (value: number, reference: number): string => `${(value / reference).toFixed(2)} times`

/** Judged as measured, not as rounded for the eye. */
export const verdict = (isMet: boolean): string => (isMet ? 'ok' : 'MISSED')
/** The figure as it is told, its limit, and whether it is kept; what is not a number misses. */
export const atMost = (told: string, value: number, most: number): string =>
  `${told} (aim: at most ${most}) ${verdict(value <= most)}`
