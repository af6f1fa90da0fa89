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
  const failures = [...new Set(refused.map(reasonOf))].map((reason): Deed => {
    const alike = refused.filter(each => reasonOf(each) === reason)
    const [first] = alike as [Answered]
    const { problem, notTaken, isForbidden } = first
    const some = alike.map(({ said }) => said)
    // What was not answered may be noted all the same: it can still be taken back.
    const mayStand = done.isUndo || (problem === undefined && !isForbidden)
    const why = isForbidden
      ? { noWay: 'mayNotSay' as const }
      : { ...reasonFor(first), ...(notTaken ? { notTaken } : {}) }
    return { ...done, state: 'failed', lost: some.map(markOf), said: mayStand ? some : [], ...why }
  })
  return taken.length > 0 ? [{ ...done, said: taken.map(({ said }) => said) }, ...failures] : failures
}

/** What makes two refusals one. */
const reasonOf = ({ code, problem, notTaken }: Answer): string => code ?? problem ?? notTaken ?? ''

/** Of a keeper that gives no code its sentence. */
const reasonFor = ({ code, problem }: Partial<Answer>): Pick<Deed, 'code' | 'problem'> =>
  code ? { code } : problem ? { problem } : {}

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
  const reason = reasonFor(refused.find(answer => answer.problem) ?? {})
  const lost = refused.map(({ said }) => markOf(said))
  const noWay = refused.some(({ isForbidden }) => isForbidden) ? { noWay: 'mayNotSay' as const } : {}
  return { ...deed, state: 'failed', lost, ...noWay, ...reason }
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
