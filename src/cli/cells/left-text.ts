import type { CellLeft } from '../../budget/lives/left.ts'
import { wholeRange } from '../../budget/lives/whole-range.ts'
import type { Left, Reading } from '../../protocol/reading.ts'

type Quantiles = Pick<Left, 'p05' | 'p50' | 'p95' | 'atLeast'>

/** `20 (6 to 46)`; `at least 20 (at worst 6)` where the model leaves what is known of the cell. */
export function leftText(left: Quantiles): string {
  const { low, middle, high } = wholeRange(left)
  return left.atLeast ? `at least ${middle} (at worst ${low})` : `${middle} (${low} to ${high})`
}

/** As a person says it: `about 5 openings left (1 to 18)`. */
export function leftSentence(left: Quantiles): string {
  const { low, middle, high } = wholeRange(left)
  const openings = middle === 1 ? 'opening' : 'openings'
  if (left.atLeast) return `at least ${middle} ${openings} left (at worst ${low})`
  if (high === 0) return 'no opening left'
  return middle === 0
    ? `perhaps no opening left (0 to ${high})`
    : `about ${middle} ${openings} left (${low} to ${high})`
}

/** `nothing heard for 41 days where 12 is usual: perhaps the cell`. */
export function silenceText({ left }: Pick<Reading, 'left'>): string {
  const { days, usualDays } = left?.silence ?? {}
  if (days === undefined || usualDays === undefined) return 'silent for longer than usual: perhaps the cell'
  const usual = usualDays < 1.5 ? 'one' : usualDays.toFixed(0)
  return `nothing heard for ${days.toFixed(0)} days where ${usual} is usual: perhaps the cell`
}

/** Said of a house of which nothing at all is heard. */
export function emptyText(days: number): string {
  const long = days < 1.5 ? 'a day' : `${days.toFixed(0)} days`
  return `Nothing was heard of the whole house for ${long}: rather nobody is there, or the Wi-Fi or the broker is down, than that all cells died. What stands below of silent cells may come from that: open one window as a test first.`
}

/** `92 %`; neither 100 % nor 0 %, for no cell is certain before it has failed a test. */
export function chanceText(chance: number): string {
  if (chance >= 0.995) return '>99 %'
  return chance > 0 && chance < 0.005 ? '<1 %' : `${Math.round(chance * 100)} %`
}

export function restsText({ source, assumed, cells }: CellLeft['restsOn']): string {
  if (source === 'practice') return assumed ? 'assumptions' : 'common practice'
  return `this house's ${cells} ${cells === 1 ? 'cell' : 'cells'}`
}
