/** How a deed went: what was taken, and what failed for each reason. Pure. */
import { type Answer, NO_ANSWER } from '../../house/asked.ts'
import type { Asking, Deed, NoWay, Said, Sending } from '../state/deeds.ts'

const markOf = ({ mark }: Said): string => mark

/** The deed of which nothing could be said at all. An undo keeps its way back. */
export function unsaid({ kind, deed, asking }: Pick<Sending, 'kind' | 'deed' | 'asking'>, noWay: NoWay): Deed {
  const lost = asking.map(({ said }) => markOf(said))
  const whole = kind === 'undo' ? undone(deed, 'keeper') : { ...deed, said: [] }
  return { ...whole, state: 'failed', noWay, lost }
}

/** The deed once each of its says is answered: what was taken, then what failed for each reason. */
export function partsOf({ kind, deed, way, asking, answers }: Sending): readonly Deed[] {
  const all = asking.map(({ say, said }): Answered => ({ said, ...(answers.get(say.id) ?? NO_ANSWER) }))
  const taken = all.filter(({ ok }) => ok)
  const refused = all.filter(({ ok }) => !ok)
  if (kind === 'round') return refused.length === 0 ? [] : [lostOfRound(deed, refused)]
  const done: Deed = kind === 'undo' ? undone(deed, way) : { ...deed, way, state: 'noted' }
  const failures = [...new Set(refused.map(({ problem }) => problem))].map((reason): Deed => {
    const some = refused.filter(({ problem }) => problem === reason).map(({ said }) => said)
    // What was not answered may be noted all the same: it can still be taken back.
    const mayStand = done.isUndo || reason === undefined
    const why = reason === undefined ? {} : { problem: reason }
    return { ...done, state: 'failed', lost: some.map(markOf), said: mayStand ? some : [], ...why }
  })
  return taken.length > 0 ? [{ ...done, said: taken.map(({ said }) => said) }, ...failures] : failures
}

interface Answered extends Answer {
  readonly said: Said
}

const undone = ({ what, said, at }: Deed, way: Sending['way']): Deed => ({
  what,
  said,
  at,
  way,
  state: 'undone',
  isUndo: true,
})

/** Of a round only what the keeper did not take is told. */
function lostOfRound(deed: Deed, refused: readonly Answered[]): Deed {
  const problem = refused.find(answer => answer.problem)?.problem
  return { ...deed, state: 'failed', lost: refused.map(({ said }) => markOf(said)), ...(problem ? { problem } : {}) }
}

/** What failed, without what has been taken since; what was not answered may be noted all the same. */
export function without(deed: Deed, marks: readonly string[]): readonly Deed[] {
  if (deed.state !== 'failed') return [deed]
  const mayStand = deed.said.map(markOf)
  const lost = (deed.lost ?? []).filter(mark => mayStand.includes(mark) || !marks.includes(mark))
  return lost.length === 0 ? [] : [{ ...deed, lost }]
}

/** The say that goes out under this id. */
export const askingOf = ({ asking }: Sending, id: string): Asking | undefined => asking.find(({ say }) => say.id === id)
