/** What a contact's entries say of one stretch of time, for drawing only: the ledger alone decides what is so now. */
import { isBounce, isRepeat } from '../../ledger/fold.ts'
import type { Entry } from '../../ledger/types.ts'

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

/** A rest word this long after its word still ends it; later ones stand for an opening of their own. */
const SAME_OPENING = 15 * 60_000

/** How a contact's words are read, as the ledger reads them. */
export interface Timing {
  /** How long one that cannot report closing counts as open without a rest word; absent for one that reports both. */
  readonly openSeconds?: number
  readonly bounceSeconds: number
  readonly repeatSeconds?: number
}

/**
 * @param entries - of one mark, oldest first, as the store gives them; entries that were taken back are left out
 */
export function storyOf(entries: readonly Entry[], now: number, timing: Timing): Story {
  const { openSeconds } = timing
  const undone = new Set(entries.flatMap(({ what, undoes }) => (what === 'undone' && undoes ? [undoes] : [])))
  const spans: Span[] = []
  const moments: Moment[] = []
  let state: Span['state'] | undefined
  let since = 0
  let lastOpening = Number.NEGATIVE_INFINITY
  let hasOpened = false
  let word: { readonly at: number; readonly isOpen: boolean } | undefined
  const end = (at: number) => {
    const quiet = state === 'open' && openSeconds !== undefined ? since + openSeconds * 1000 : at
    if (state && at > since) spans.push({ from: since, to: Math.min(at, quiet), state })
    if (at > quiet) spans.push({ from: quiet, to: at, state: 'opened' })
    state = undefined
  }
  const turn = (next: Span['state'], at: number) => {
    end(at)
    state = next
    since = at
  }
  for (const entry of entries) {
    if (undone.has(entry.id)) continue
    const at = Date.parse(entry.at)
    if (Number.isNaN(at)) continue
    const until = entry.until === undefined ? undefined : Date.parse(entry.until)
    // of a word that waited, only its end is sure
    const sure = until === undefined || Number.isNaN(until) ? at : until
    const counts = entry.how !== 'retained'
    const opening = () => {
      const gap = word && entry.how !== 'queued' ? Math.abs(at - word.at) : Number.POSITIVE_INFINITY
      const again = (hasOpened && isBounce(gap, timing)) || (word?.isOpen === true && isRepeat(gap, timing))
      lastOpening = at
      hasOpened ||= counts
      if (counts && !again)
        moments.push({ at, what: 'opening', ...(until === undefined || Number.isNaN(until) ? {} : { until }) })
    }
    switch (entry.what) {
      case 'opened':
        turn('open', sure)
        opening()
        word = { at, isOpen: true }
        break
      case 'rest':
        if (state === 'open') turn('opened', sure)
        else if (counts && at - lastOpening > SAME_OPENING) {
          turn('opened', sure)
          opening()
        }
        break
      case 'closed':
        end(sure)
        word = { at, isOpen: false }
        break
      case 'seen-closed':
        end(at)
        moments.push({ at, what: 'seen-shut' })
        break
      case 'cell-fitted':
        moments.push({ at, what: 'cell' })
        break
      case 'failed':
        moments.push({ at, what: 'failed' })
        break
      case 'proved':
        moments.push({ at, what: 'proved' })
        break
    }
  }
  end(now)
  return { spans, moments: moments.toSorted((a, b) => a.at - b.at) }
}
