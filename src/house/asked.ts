/** Says on their way to a keeper: what is asked, which answers are in, what is still waited for. Pure. */
import type { Heard } from '../protocol/feed.ts'
import { parseHeard, type Refusal } from '../protocol/heard-note.ts'
import type { Say } from '../protocol/say.ts'
import { tallyPlace, tallyTopics } from '../protocol/topics.ts'
import { utf8Text } from '../text/utf8.ts'

/** A say is waited for this long; the broker may hold it for a keeper that comes back. */
export const ANSWER_MILLISECONDS = 10_000

/** A keeper's answer; a refusal without `problem` stands for none: the keeper may have noted the say all the same. */
export interface Answer {
  readonly ok: boolean
  readonly problem?: string
  /** The same in a word. */
  readonly code?: Refusal
  /** Why the broker did not take the say. */
  readonly notTaken?: string
  /** It does not let this account say anything: the keeper has noted nothing. */
  readonly isForbidden?: true
}

/** The broker did not take the say, or the time for an answer is over. */
export const NO_ANSWER: Answer = { ok: false }

/** Says that belong together, and their answers by the id of the say. */
export interface Asked {
  readonly asking: readonly { readonly say: Say }[]
  readonly answers: ReadonlyMap<string, Answer>
}

/** What is published for a say. */
export const sayMessage = (
  tally: string,
  mark: string,
  say: Say,
): { readonly topic: string; readonly payload: string } => ({
  topic: tallyTopics(tally).say(mark),
  payload: JSON.stringify(say),
})

/** The answer in a message; undefined when it holds none. A copy that the broker kept answers nobody. */
export function answerIn(
  tally: string,
  { topic, payload, retain }: Heard,
): { readonly id: string; readonly answer: Answer } | undefined {
  const place = tallyPlace(tally, topic)
  const answer = retain || place?.kind !== 'heard' ? undefined : parseHeard(utf8Text(payload))
  return place?.kind === 'heard' && answer ? { id: place.id, answer } : undefined
}

/** Ids of the says that are still waited for. */
export const waitedFor = (groups: readonly Asked[]): readonly string[] =>
  groups.flatMap(({ asking, answers }) => asking.flatMap(({ say }) => (answers.has(say.id) ? [] : [say.id])))

/**
 * Takes the answer to a say; the first one counts. A group leaves when all of it is answered.
 * @returns its group with the answer and the groups that still wait; undefined when nobody waits for this say: it was
 * never asked, was answered before, or the answer is late
 */
export function takeAnswer<Group extends Asked>(
  groups: readonly Group[],
  id: string,
  answer: Answer,
): { readonly group: Group; readonly isWhole: boolean; readonly waiting: readonly Group[] } | undefined {
  const before = groups.find(each => waitedFor([each]).includes(id))
  if (!before) return undefined
  const group = { ...before, answers: new Map(before.answers).set(id, answer) }
  const isWhole = waitedFor([group]).length === 0
  return { group, isWhole, waiting: groups.flatMap(each => (each !== before ? [each] : isWhole ? [] : [group])) }
}
