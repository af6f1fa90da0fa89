import type { Entry } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import type { Fold } from './fold.ts'
import type { MarkState } from './window.ts'

/** A word or a takeover of the last seconds. */
export interface Recent {
  readonly mark: string
  readonly at: number
  readonly takeover: boolean
}

/** How close another contact's word must stand to a takeover. */
const TWIN_MILLISECONDS = 2000
const MOST_RECENT = 32

/** A contact of both edges that was heard and not lost since: its link was up, so its word did not begin a link. */
export const isLinked = ({ edge, silent }: Fold, { reports }: Policy): boolean =>
  reports === 'both' && edge !== undefined && !silent

const isWord = (entry: Entry): boolean => entry.how === 'live' && (entry.what === 'opened' || entry.what === 'closed')

/** The contact whose word stands nearest to a takeover of this one, or the reverse: both may have one client id. */
export function findTwin(recent: readonly Recent[], mark: string, entry: Entry, takeover: boolean): string | undefined {
  if (!takeover && !isWord(entry)) return undefined
  const at = Date.parse(entry.at)
  let best: Recent | undefined
  for (const other of recent) {
    if (other.mark === mark || other.takeover === takeover || Math.abs(other.at - at) > TWIN_MILLISECONDS) continue
    if (!best || Math.abs(other.at - at) <= Math.abs(best.at - at)) best = other
  }
  return best?.mark
}

/** Sets both contacts' twin in `marks`, or clears both once one of them was mended. */
export function mendTwins(
  marks: Record<string, MarkState>,
  mark: string,
  entry: Entry,
  twin: string | undefined,
): void {
  const state = marks[mark]!
  if (twin !== undefined && Object.hasOwn(marks, twin)) {
    marks[mark] = { ...state, twinWith: twin }
    marks[twin] = { ...marks[twin]!, twinWith: mark }
  }
  if (entry.what === 'proved' || entry.what === 'flashed' || entry.what === 'module-fitted') {
    for (const [name, other] of Object.entries(marks)) {
      if (other.twinWith === undefined || (name !== mark && other.twinWith !== mark)) continue
      const { twinWith: _, ...rest } = other
      marks[name] = rest
    }
  }
}

export function remember(recent: readonly Recent[], mark: string, entry: Entry, takeover: boolean): readonly Recent[] {
  if (!takeover && !isWord(entry)) return recent
  const at = Date.parse(entry.at)
  const kept = recent.filter(other => Math.abs(at - other.at) <= 10_000)
  return [...kept, { mark, at, takeover }].slice(-MOST_RECENT)
}
