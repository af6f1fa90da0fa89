/** The tally's own topics. Pure: card, keeper and command line share it. */
import { MARK } from '../register/types.ts'
import { ID } from './parts.ts'

/** Topic names under the register's `tally` prefix; all JSON except `plain`. */
export interface TallyTopics {
  /** Retained: what a wall needs to know of the house. */
  readonly register: string
  /** Retained: the keeper's state with its beat; the keeper's will stands here too. */
  readonly keeper: string
  /** Retained: the reading of one opening. */
  opening(mark: string): string
  /** Retained text for hubs: one of `PLAIN_WORDS`. */
  plain(mark: string): string
  /** Not retained: the keeper's own marker and challenge. */
  echo(id: string): string
  /** Not retained: what a person says of one opening. */
  say(mark: string): string
  /** Not retained: the keeper's answer to a say. */
  heard(id: string): string
  /** Every opening, echo, say or answer, as topic filters. */
  readonly filters: {
    readonly openings: string
    readonly echoes: string
    readonly says: string
    readonly answers: string
  }
}

export function tallyTopics(tally: string): TallyTopics {
  return {
    register: `${tally}/register`,
    keeper: `${tally}/keeper`,
    opening: mark => `${tally}/opening/${mark}`,
    plain: mark => `${tally}/plain/${mark}`,
    echo: id => `${tally}/keeper/echo/${id}`,
    say: mark => `${tally}/say/${mark}`,
    heard: id => `${tally}/heard/${id}`,
    filters: {
      openings: `${tally}/opening/+`,
      echoes: `${tally}/keeper/echo/+`,
      says: `${tally}/say/+`,
      answers: `${tally}/heard/+`,
    },
  }
}

export type TallyPlace =
  | { readonly kind: 'register' | 'keeper' }
  | { readonly kind: 'opening' | 'plain' | 'say'; readonly mark: string }
  | { readonly kind: 'echo' | 'heard'; readonly id: string }

/** Which of the tally's topics this is; undefined for any other topic, or when its mark or id is malformed. */
export function tallyPlace(tally: string, topic: string): TallyPlace | undefined {
  if (!topic.startsWith(`${tally}/`)) return undefined
  const levels = topic.slice(tally.length + 1).split('/')
  const [first, last] = [levels.slice(0, -1).join('/'), levels.at(-1) ?? '']
  if (first === '') return last === 'register' || last === 'keeper' ? { kind: last } : undefined
  if (first === 'opening' || first === 'plain' || first === 'say') {
    return MARK.test(last) ? { kind: first, mark: last } : undefined
  }
  if (first === 'keeper/echo' || first === 'heard') {
    return ID.test(last) ? { kind: first === 'heard' ? 'heard' : 'echo', id: last } : undefined
  }
  return undefined
}
