import { missedNotes } from '../ledger/missed.ts'
import type { MarkState } from '../ledger/window.ts'
import { timeOf } from '../ledger/window.ts'
import type { Entry } from '../protocol/entry.ts'
import { own } from '../text/own.ts'
import { addDeaf } from './deaf.ts'
import type { HouseEvent, HouseState, LastGap, PendingNote } from './state.ts'

/** The words that the broker keeps come at once with the link. */
const AWAIT_MILLISECONDS = 10_000

type Missed = Extract<HouseEvent, { kind: 'missed' }>

/** What a time in which words may have gone unheard leaves: notes, and doors whose kept word is waited for. */
export interface Unheard {
  readonly notes: readonly Entry[]
  readonly awaited: HouseState['awaited']
  readonly deaf?: HouseState['deaf']
}

export function missedIn(
  state: HouseState,
  { marks, from, to, heardUntil, queued, awaitsKept, id, now }: Omit<Missed, 'kind'>,
): Unheard {
  const openings = state.register?.openings ?? []
  const may = openings.filter(({ sender }) => !queued || sender.qos === 0).map(({ mark }) => mark)
  const gap = {
    marks: marks ? may.filter(mark => marks.includes(mark)) : may,
    to: to ?? now,
    heardAt: state.heardAt,
    ...(from === undefined ? {} : { from }),
  }
  const all = missedNotes(state.ledger, gap, now, mark => `${id}-${mark}`)
  const waits = all.filter(({ mark }) => awaitsKept && mayWait(own(state.ledger.marks, mark), gap.to))
  const awaited = new Map(state.awaited)
  for (const note of waits) awaited.set(note.mark, { note: { ...note, how: 'said' }, until: now + AWAIT_MILLISECONDS })
  const span = { from: from ?? heardUntil ?? lastHeard(state, gap.marks, gap.to), to: gap.to, marks: gap.marks }
  const deaf = gap.marks.length === 0 ? state.deaf : addDeaf(state.deaf, span, openings.length)
  return { notes: all.filter(note => !waits.includes(note)), awaited, deaf }
}

/** The last word of any of these: until then, at least, somebody listened. */
const lastHeard = ({ ledger }: HouseState, marks: readonly string[], to: number): number =>
  Math.max(
    0,
    ...marks.flatMap(mark => {
      const last = own(ledger.marks, mark)?.fold.last
      return last ? [Math.min(to, Date.parse(last.at))] : []
    }),
  )

/** What is remembered of the gap; undefined where its length is not known. */
export function gapOf({ marks, from, to, queued, now }: Missed): LastGap | undefined {
  if (from === undefined) return undefined
  return { from, to: to ?? now, ...(marks ? { marks } : {}), ...(queued ? { queued } : {}) }
}

/**
 * A contact of both edges that said last that it is shut: the word that the broker kept of it tells how it stands. Where
 * the clock was set back, a note that is written later would stand before what it doubts: it is written at once.
 */
const mayWait = (state: MarkState | undefined, to: number): boolean =>
  state?.fold.edge === 'closed' && !state.window.some(({ entry }) => timeOf(entry) > to)

/** Waits no longer: for none (`now` absent), or for those whose time has come. */
export function waitedFor(awaited: HouseState['awaited'], now = Number.POSITIVE_INFINITY): Unheard {
  const due = [...awaited.values()].filter(({ until }) => until <= now)
  if (due.length === 0) return { notes: [], awaited }
  return { notes: due.map(({ note }) => note), awaited: new Map([...awaited].filter(([, { until }]) => until > now)) }
}

/** A door that was heard, or seen shut since, is not waited for any more. */
export function stillAwaited(
  awaited: HouseState['awaited'],
  heard: ReadonlySet<string>,
  entries: readonly Entry[],
): HouseState['awaited'] {
  if (awaited.size === 0) return awaited
  const isSeen = (mark: string, { note }: PendingNote) =>
    entries.some(each => each.mark === mark && each.what === 'seen-closed' && timeOf(each) >= timeOf(note))
  const left = [...awaited].filter(([mark, each]) => !heard.has(mark) && !isSeen(mark, each))
  return left.length === awaited.size ? awaited : new Map(left)
}
