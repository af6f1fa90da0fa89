/** What a person said on the sheet, how it went, and the way back. */
import type { Entry } from '../../protocol/entry.ts'
import type { Say } from '../../protocol/say.ts'
import { freshId } from '../effects/frame.ts'

/** Why nothing can be said here; the sentence of that name tells it. */
export type NoWay = 'onlyLooks' | 'keeperUnheard' | 'notOnThisPage'
/** Where a word goes: to the keeper, into this tablet's own tally, or nowhere. */
export type Way = 'keeper' | 'own' | NoWay

export const isOpenWay = (way: Way): way is 'keeper' | 'own' => way === 'keeper' || way === 'own'

export interface Answer {
  readonly ok: boolean
  /** Why the keeper refused; absent on a refusal that never came: it did not answer. */
  readonly problem?: string
}

export interface Deed {
  readonly what: 'seen-closed' | 'cell-fitted' | 'failed' | 'round'
  /** One said entry an opening: of a failed deed those that may have been noted. */
  readonly said: readonly { readonly mark: string; readonly id: string }[]
  readonly at: number
  readonly state: 'sending' | 'noted' | 'undone' | 'failed'
  /** Where it went. */
  readonly way?: Way
  /** It was to be taken back. */
  readonly isUndo?: true
  /** Of a failed deed: marks of those that were not taken. */
  readonly lost?: readonly string[]
  readonly problem?: string
  /** It could not be said at all. */
  readonly noWay?: NoWay
}

export interface Ways {
  readonly way: Way
  toKeeper(mark: string, say: Say): Promise<Answer>
  toOwn(entry: Entry): void
  now(): number
}

export const startDeed = (what: Deed['what'], marks: readonly string[], now: number): Deed => ({
  what,
  said: marks.map(mark => ({ mark, id: freshId() })),
  at: now,
  state: 'sending',
})

/**
 * Says the deed of each opening; with a keeper it holds only where the keeper has answered.
 * @returns what was taken, and what failed for each reason
 */
export async function sayDeed(
  deed: Deed,
  ways: Ways,
  cell: (mark: string) => string | undefined,
): Promise<readonly Deed[]> {
  const { way } = ways
  if (!isOpenWay(way)) return [{ ...unsaid(deed, deed.said, way), said: [] }]
  const { what } = deed
  const answers = await Promise.all(
    deed.said.map(async ({ mark, id }) => {
      const type = what === 'cell-fitted' ? cell(mark) : undefined
      const more = type === undefined ? {} : { cell: { type } }
      return { id, ...(await tell(way, ways, { v: 1, id, what, ...more }, { mark, ...more })) }
    }),
  )
  return parts({ ...deed, way, state: 'noted' }, answers)
}

/** Takes the deed back on the way that it went. @returns as `sayDeed` */
export async function undoDeed(deed: Deed, ways: Ways): Promise<readonly Deed[]> {
  const { what, said, at } = deed
  const way = deed.way === 'own' ? 'own' : 'keeper'
  const undone: Deed = { what, said, at, way, state: 'undone', isUndo: true }
  if (way === 'keeper' && ways.way !== 'keeper') {
    return [unsaid(undone, said, ways.way === 'own' ? 'keeperUnheard' : ways.way)]
  }
  const answers = await Promise.all(
    deed.said.map(async ({ mark, id: undoes }) => {
      const say: Say = { v: 1, id: freshId(), what: 'undone', undoes }
      return { id: undoes, ...(await tell(way, ways, say, { mark, undoes })) }
    }),
  )
  return parts(undone, answers)
}

/** Hands over what a walk leaves. @returns undefined when all of it was taken */
export async function sayRound(entries: readonly Entry[], ways: Ways): Promise<Deed | undefined> {
  const { way } = ways
  const deed: Deed = { what: 'round', said: [], at: ways.now(), state: 'failed' }
  if (entries.length === 0) return undefined
  if (!isOpenWay(way)) return unsaid(deed, entries, way)
  const answers = await Promise.all(
    entries.map(entry => tell(way, ways, { v: 1, id: entry.id, what: 'round', note: entry.text ?? '' }, entry)),
  )
  const failed = answers.filter(({ ok }) => !ok)
  const problem = failed.find(answer => answer.problem)?.problem
  return failed.length === 0 ? undefined : { ...deed, lost: failed.map(markOf), ...(problem ? { problem } : {}) }
}

async function tell(
  way: 'keeper' | 'own',
  ways: Ways,
  say: Say,
  entry: Marked & Partial<Entry>,
): Promise<Answer & Marked> {
  const answer = way === 'keeper' ? await ways.toKeeper(entry.mark, say) : { ok: true }
  const { id, what } = say
  if (answer.ok) ways.toOwn({ id, at: new Date(ways.now()).toISOString(), what, how: 'live', ...entry })
  return { ...answer, mark: entry.mark }
}

type Marked = Pick<Entry, 'mark'>
type Answered = Answer & Deed['said'][number]

const markOf = ({ mark }: Marked): string => mark

const unsaid = (deed: Deed, lost: readonly Marked[], noWay: NoWay): Deed => ({
  ...deed,
  state: 'failed',
  noWay,
  lost: lost.map(markOf),
})

/** What was taken, and what failed for each reason. */
function parts(done: Deed, answers: readonly Answered[]): readonly Deed[] {
  const said = (some: readonly Answered[]) => some.map(({ mark, id }) => ({ mark, id }))
  const taken = answers.filter(({ ok }) => ok)
  const failed = answers.filter(({ ok }) => !ok)
  const failures = [...new Set(failed.map(({ problem }) => problem))].map((reason): Deed => {
    const some = failed.filter(({ problem }) => problem === reason)
    // What was not answered may be noted all the same: it can still be taken back.
    const mayStand = done.isUndo || reason === undefined
    const why = reason === undefined ? {} : { problem: reason }
    return { ...done, state: 'failed', lost: some.map(markOf), said: mayStand ? said(some) : [], ...why }
  })
  return taken.length > 0 ? [{ ...done, said: said(taken) }, ...failures] : failures
}
