import { judgeSay, type SayContext } from '../ledger/judge-say.ts'
import { utf8Text } from '../text/utf8.ts'
import { factsOf } from './policy.ts'
import type { Effect, HouseState, SayHearing, Word } from './state.ts'

/** Longest text of a say that is looked at, bytes. */
const LONGEST_SAY = 70_000

/**
 * What a say on the broker comes to: its entry, where it is a new one, and its answer, or why there is none. One that
 * comes again is answered again: its first answer may have been lost.
 */
export function hearSay(
  { register, ledger: { policy } }: HouseState,
  { message, arrival }: Word,
  mark: string,
  context: Pick<SayContext, 'ledger' | 'now' | 'find'>,
): ReturnType<SayHearing['hear']> {
  const text = utf8Text(message.payload, LONGEST_SAY)
  const judged = judgeSay(
    text,
    mark,
    { ...arrival, retain: message.retain },
    { ...context, policy, ...(register ? { factsOf: factsOf(register) } : {}) },
  )
  const { id } = judged
  if ('problem' in judged) {
    const { problem, code } = judged
    return id === undefined
      ? { effect: { kind: 'refused', why: `a say of ${mark} could not be answered: ${problem}` } }
      : { effect: { kind: 'answer', id, note: { v: 1, ok: false, problem, code } } }
  }
  const effect: Effect = { kind: 'answer', id: judged.id, note: { v: 1, ok: true } }
  return 'entry' in judged ? { entry: judged.entry, effect } : { effect }
}
