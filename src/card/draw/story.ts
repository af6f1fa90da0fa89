/** What a contact's entries say of one stretch of time, as the ledger counts them. */
import { foldEntry } from '../../ledger/apply.ts'
import { EMPTY_FOLD, type Fold } from '../../ledger/fold.ts'
import { positionOf, turnsOf } from '../../ledger/read.ts'
import { asCounted, timeOf } from '../../ledger/window.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Policy } from '../../protocol/policy.ts'
import type { What } from '../../protocol/whats.ts'
import { sorted } from '../../text/lists.ts'

export interface Span {
  readonly from: number
  readonly to: number
  /** `opened`: nobody has seen it shut. */
  readonly state: 'open' | 'opened'
}
/** A moment of the story; `until` where only an interval is known. */
export interface Moment {
  readonly at: number
  readonly until?: number
  readonly what: 'opening' | 'seen-shut' | 'cell' | 'failed' | 'proved'
}
export interface Story {
  readonly spans: readonly Span[]
  readonly moments: readonly Moment[]
}

const SAID: { readonly [what in What]?: Moment['what'] } = {
  'seen-closed': 'seen-shut',
  'cell-fitted': 'cell',
  failed: 'failed',
  proved: 'proved',
}

/**
 * @param entries - of one mark, in the order in which they came: they count as the ledger counts them, in their place and
 *   without what was taken back
 * @param before - what the ledger made of the entries before these
 */
export function storyOf(entries: readonly Entry[], now: number, policy: Policy, before: Fold = EMPTY_FOLD): Story {
  const spans: Span[] = []
  const moments: Moment[] = []
  let fold = before
  let from = Number.NEGATIVE_INFINITY
  /** How it stood until then, by the passing of time too. */
  const tell = (to: number) => {
    const turns = turnsOf(fold, policy).filter(time => time > from && time < to)
    for (const end of [...turns.sort((a, b) => a - b), to]) {
      if (end <= from) continue
      const state = positionOf(fold, from, policy)
      const last = spans.at(-1)
      if (last?.state === state && last.to === from) spans[spans.length - 1] = { ...last, to: end }
      else if (state === 'open' || state === 'opened') spans.push({ from, to: end, state })
      from = end
    }
  }
  for (const entry of asCounted(entries)) {
    const at = Date.parse(entry.at)
    if (Number.isNaN(at)) continue
    const until = entry.until === undefined ? Number.NaN : Date.parse(entry.until)
    // Of a word that waited only its end is sure.
    tell(timeOf(entry))
    const { openings } = fold
    fold = foldEntry(fold, entry, policy)
    const what = fold.openings > openings ? 'opening' : SAID[entry.what]
    if (what) moments.push({ at: (what === 'opening' && fold.wordAt) || at, what, ...(until > 0 ? { until } : {}) })
  }
  tell(now)
  return { spans, moments: sorted(moments, (a, b) => a.at - b.at) }
}
