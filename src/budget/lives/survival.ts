import type { Lifetime } from './lifetime.ts'

/**
 * Share of cells still working after so many sends, by what was seen alone: Kaplan and Meier's product.
 * A life between two tries counts at its last word that got through.
 * @returns steps from [0, 1] on, each [sends, share from here on]; running cells lower nothing
 * @see Kaplan & Meier 1958, J. Am. Stat. Assoc. 53, 457; NIST/SEMATECH e-Handbook 8.2.1.5
 */
export function survivalSteps(lives: readonly Lifetime[]): [sends: number, share: number][] {
  const ends = lives.map(life =>
    'runningAt' in life
      ? { at: life.runningAt, died: false }
      : { at: 'failedAt' in life ? life.failedAt : life.failedBetween[0], died: true },
  )
  const steps: [number, number][] = [[0, 1]]
  let share = 1
  for (const at of [...new Set(ends.filter(end => end.died).map(end => end.at))].sort((a, b) => a - b)) {
    const atRisk = ends.filter(end => end.at >= at).length
    const died = ends.filter(end => end.died && end.at === at).length
    share *= 1 - died / atRisk
    steps.push([at, share])
  }
  return steps
}
