/** The tally's own topics. Pure: card, keeper and command line share it. */
import { MARK } from '../register/types.ts'
import { ID } from './parts.ts'

/** Topic names under the register's `tally` prefix; what stands on each is in `payloads.ts`. */
export interface TallyTopics {
  /** What a wall needs to know of the house. */
  readonly register: string
  /** The keeper's state with its beat; the keeper's will stands here too. */
  readonly keeper: string
  /** What the house asked to be told of. */
  readonly alert: string
  /** The reading of one opening. */
  opening(mark: string): string
  /** One word for hubs. */
  plain(mark: string): string
  /** What one opening did in the last months. */
  story(mark: string): string
  /** What a person says of one opening. */
  say(mark: string): string
  /** The keeper's own marker and challenge. */
  echo(id: string): string
  /** The keeper's answer to a say. */
  heard(id: string): string
  /** All topics of a kind, and all of the tally, as topic filters. */
  readonly filters: {
    readonly openings: string
    readonly plains: string
    readonly stories: string
    readonly says: string
    readonly echoes: string
    readonly answers: string
    readonly all: string
  }
}

/**
 * All topics of a tally, and the filters that take in several of them.
 * @example
 * import { tallyPlace, tallyTopics } from 'sashtally'
 * console.log(tallyTopics('ropewalk/tally').say('W01')) // ropewalk/tally/say/W01
 * console.log(tallyPlace('ropewalk/tally', 'ropewalk/tally/opening/W01')?.kind) // opening
 */
export function tallyTopics(tally: string): TallyTopics {
  const opening = (mark: string) => `${tally}/opening/${mark}`
  const plain = (mark: string) => `${tally}/plain/${mark}`
  const story = (mark: string) => `${tally}/story/${mark}`
  const say = (mark: string) => `${tally}/say/${mark}`
  const echo = (id: string) => `${tally}/keeper/echo/${id}`
  const heard = (id: string) => `${tally}/heard/${id}`
  return {
    register: `${tally}/register`,
    keeper: `${tally}/keeper`,
    alert: `${tally}/alert`,
    opening,
    plain,
    story,
    say,
    echo,
    heard,
    filters: {
      openings: opening('+'),
      plains: plain('+'),
      stories: story('+'),
      says: say('+'),
      echoes: echo('+'),
      answers: heard('+'),
      all: `${tally}/#`,
    },
  }
}

/** The tally whose keeper speaks on this topic; undefined where none does. */
export function tallyOfKeeper(topic: string): string | undefined {
  const tally = topic.slice(0, -'/keeper'.length)
  return tally !== '' && tallyTopics(tally).keeper === topic ? tally : undefined
}

/** What a topic of a tally is for, with the mark or id that stands in it. */
export type TallyPlace =
  | { readonly kind: 'register' | 'keeper' | 'alert' }
  | { readonly kind: 'opening' | 'plain' | 'story' | 'say'; readonly mark: string }
  | { readonly kind: 'echo' | 'heard'; readonly id: string }
export type TopicKind = TallyPlace['kind']

/** Which of the tally's topics this is; undefined for any other topic, or when its mark or id is malformed. */
export function tallyPlace(tally: string, topic: string): TallyPlace | undefined {
  if (!topic.startsWith(`${tally}/`)) return undefined
  const levels = topic.slice(tally.length + 1).split('/')
  const [first, last] = [levels.slice(0, -1).join('/'), levels.at(-1) ?? '']
  switch (first) {
    case '':
      return last === 'register' || last === 'keeper' || last === 'alert' ? { kind: last } : undefined
    case 'opening':
    case 'plain':
    case 'story':
    case 'say':
      return MARK.test(last) ? { kind: first, mark: last } : undefined
    case 'keeper/echo':
      return ID.test(last) ? { kind: 'echo', id: last } : undefined
    case 'heard':
      return ID.test(last) ? { kind: 'heard', id: last } : undefined
    default:
      return undefined
  }
}
