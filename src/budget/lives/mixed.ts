import type { Remaining } from './cell-left.ts'

/** One of several things of which nobody knows which is so. */
export type Chance<T> = T & { readonly chance: number }

/** What is left of a cell that is one of several, as likely as `chance` says. @param ways - their chances add up to 1 */
export function mixed(ways: readonly Chance<{ readonly left: Remaining }>[]): Remaining {
  const [only] = ways
  if (only && ways.length === 1) return only.left
  // A sum of parts that add up to 1 may come out a rounding above it.
  const sum = (of: (left: Remaining) => number): number =>
    Math.min(
      1,
      ways.reduce((all, { chance, left }) => all + chance * of(left), 0),
    )
  const surviving = (more: number): number => sum(left => left.surviving(more))
  const likeliest = ways.reduce((one, other) => (other.chance > one.chance ? other : one)).left
  return {
    surviving,
    quantile(p, within) {
      let [low, high] = within ?? [0, 1]
      while (surviving(high) > 1 - p) [low, high] = [high, 2 * high]
      while (high - low > 1e-10 * high && high > 1e-9) {
        const middle = (low + high) / 2
        if (surviving(middle) > 1 - p) low = middle
        else high = middle
      }
      return low
    },
    duringSilence: sum(left => left.duringSilence ?? left.surviving(1)),
    ...(likeliest.endMillivolts === undefined ? {} : { endMillivolts: likeliest.endMillivolts }),
  }
}
