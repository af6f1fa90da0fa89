import { SAYS_CLOSED } from '../../register/craft-rules.ts'

/** A word in its time, seconds. */
export interface Timed {
  readonly word: string
  readonly seconds: number
  readonly kept: boolean
  /** Words of two stretches may have others between them that were missed. */
  readonly stretch: number
}

/** Which of the kept words of a contact is which, and how that was told. */
export interface Edges {
  readonly opened: string
  readonly closed: string
  /** Undefined when no third word was heard. */
  readonly gone?: string
  readonly because: string
}

/** The one word that says closed in plain language; undefined where none does, or several do. */
export function closedOf(words: readonly string[]): string | undefined {
  const saying = words.filter(word => SAYS_CLOSED.test(word.trim()))
  return saying.length === 1 ? saying[0] : undefined
}
const say = (word: string): string => JSON.stringify(word)

/**
 * Gives roles to two or three words that are all kept, one of which alone says closed.
 * After `gone` the contact says its last edge again, so that with gone left out its edges take turns.
 */
export function edgesOf(words: readonly string[], closed: string, heard: readonly Timed[]): Edges {
  const reasons = [`${say(closed)} says closed`]
  let gone: string | undefined
  if (words.length === 3) {
    const counted = words
      .filter(word => word !== closed)
      .map(word => ({
        word,
        faults: turnFaults(word, heard),
        times: heard.filter(one => one.word === word).length,
        first: heard.findIndex(one => one.word === word),
      }))
      .sort((a, b) => a.faults - b.faults || a.times - b.times || b.first - a.first)
    const [first, second] = counted
    gone = first!.word
    reasons.push(
      first!.faults < second!.faults
        ? `${say(gone)} is taken as gone: without it the other two take turns`
        : first!.times < second!.times
          ? `${say(gone)} came least often and is taken as gone: a guess`
          : `that ${say(gone)} is gone is a guess`,
    )
  } else reasons.push('no third word was heard: the word for gone is made up')
  const opened = words.find(word => word !== gone && word !== closed)!
  return { opened, closed, ...(gone === undefined ? {} : { gone }), because: reasons.join('; ') }
}

/** How often an edge is said twice without `gone` between, or changes over `gone`. */
function turnFaults(gone: string, heard: readonly Timed[]): number {
  let faults = 0
  let last: string | undefined
  let away = false
  let stretch: number | undefined
  for (const { word, stretch: here } of heard) {
    if (here !== stretch) last = undefined
    stretch = here
    if (word === gone) {
      away = last !== undefined
      continue
    }
    if (last !== undefined && (word === last) !== away) faults++
    last = word
    away = false
  }
  return faults
}
