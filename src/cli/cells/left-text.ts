import { type CellLeft, endDigits } from '../../budget/lives/left.ts'
import type { Left } from '../../protocol/reading.ts'

/** `20 (7.5 to 39)`; `at least 20 (at worst 7.5)` where the model leaves what is known of the cell. */
export function leftText({ p05, p50, p95, atLeast }: Pick<Left, 'p05' | 'p50' | 'p95' | 'atLeast'>): string {
  const end = (openings: number): string => openings.toFixed(endDigits(openings))
  return atLeast
    ? `at least ${p50.toFixed(0)} (at worst ${end(p05)})`
    : `${p50.toFixed(0)} (${end(p05)} to ${end(p95)})`
}

/** `92 %`; never 100 %, for no cell is certain. */
export const chanceText = (chance: number): string => (chance >= 0.995 ? '>99 %' : `${Math.round(chance * 100)} %`)

export function restsText({ source, assumed, cells }: CellLeft['restsOn']): string {
  if (source === 'practice') return assumed ? 'assumptions' : 'common practice'
  return `this house's ${cells} ${cells === 1 ? 'cell' : 'cells'}`
}
