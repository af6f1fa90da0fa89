/** What a person said on the sheet, how it went, and the way back. */
import type { Entry } from '../ledger/types.ts'
import type { Say } from '../link/topics.ts'
import { freshId } from './frame.ts'

export interface Deed {
  readonly what: 'seen-closed' | 'cell-fitted' | 'failed'
  /** One said entry an opening. */
  readonly said: readonly { readonly mark: string; readonly id: string }[]
  readonly at: number
  readonly state: 'sending' | 'noted' | 'undone' | 'failed'
  readonly problem?: string
}

/** Where a word goes: to the keeper, or into this tablet's own tally. */
export interface Ways {
  readonly keeper: boolean
  toKeeper(mark: string, say: Say): Promise<{ ok: boolean; problem?: string }>
  toOwn(entry: Entry): void
  now(): number
}

export const startDeed = (what: Deed['what'], marks: readonly string[], now: number): Deed => ({
  what,
  said: marks.map(mark => ({ mark, id: freshId() })),
  at: now,
  state: 'sending',
})

/** Says the deed of each opening; with a keeper it holds only where the keeper has answered. */
export async function sayDeed(deed: Deed, ways: Ways, cell: (mark: string) => string | undefined): Promise<Deed> {
  const answers = await Promise.all(
    deed.said.map(async ({ mark, id }) => {
      const type = deed.what === 'cell-fitted' ? cell(mark) : undefined
      const more = type === undefined ? {} : { cell: { type } }
      const answer = ways.keeper ? await ways.toKeeper(mark, { v: 1, id, what: deed.what, ...more }) : { ok: true }
      if (answer.ok) ways.toOwn({ id, at: iso(ways), mark, what: deed.what, how: 'live', ...more })
      return { mark, id, ...answer }
    }),
  )
  return after(deed, answers, 'noted')
}

/** Takes the deed back. */
export async function undoDeed(deed: Deed, ways: Ways): Promise<Deed> {
  const answers = await Promise.all(
    deed.said.map(async ({ mark, id: undoes }) => {
      const id = freshId()
      const answer = ways.keeper ? await ways.toKeeper(mark, { v: 1, id, what: 'undone', undoes }) : { ok: true }
      if (answer.ok) ways.toOwn({ id, at: iso(ways), mark, what: 'undone', how: 'live', undoes })
      return { mark, id: undoes, ...answer }
    }),
  )
  return after(deed, answers, 'undone')
}

const iso = (ways: Ways): string => new Date(ways.now()).toISOString()

function after(
  deed: Deed,
  answers: readonly { mark: string; id: string; ok: boolean; problem?: string }[],
  done: 'noted' | 'undone',
): Deed {
  const failed = answers.filter(answer => !answer.ok)
  if (failed.length === 0) return { ...deed, state: done }
  const problem = failed.find(answer => answer.problem)?.problem
  const said = done === 'noted' ? answers.filter(answer => answer.ok) : failed
  return {
    ...deed,
    said: said.map(({ mark, id }) => ({ mark, id })),
    state: 'failed',
    ...(problem === undefined ? {} : { problem }),
  }
}
