import type { Headline } from '../../ledger/headline.ts'
import type { Key } from './en.ts'
import type { Fill } from './words.ts'

/**
 * The sentence over a whole house, for eye and ear.
 * @param fresh - the link, and the keeper where one is used, are live
 */
export function headline({ head, fresh }: { readonly head: Headline; readonly fresh: boolean }): readonly [Key, Fill?] {
  if (head.mayBeOpen > 0) return ['mayBeOpen', { n: head.mayBeOpen }]
  if (head.allShut) return ['allShut']
  if (head.notCertain === 0 && !fresh) return ['noneHeardStale']
  return ['noneHeard', { n: head.notCertain }]
}

export type HeadTone = 'unseen' | 'shut' | 'doubt'

/** How that sentence is coloured. */
export const headTone = ({ mayBeOpen, allShut }: Headline): HeadTone =>
  mayBeOpen > 0 ? 'unseen' : allShut ? 'shut' : 'doubt'
