import { parseReading } from '../../protocol/reading.ts'
import { tallyPlace } from '../../protocol/topics.ts'
import { isContactWord } from '../../protocol/whats.ts'
import { isInside } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'

/** What this account is given of a house, and what a keeper of it says. */
export class HouseSigns {
  readonly #tally: string
  readonly #topics: ReadonlySet<string>
  readonly #spoke = new Set<string>()
  #keeper: string | undefined
  #isHeard = false
  #isContactHeard = false

  constructor({ tally, openings }: Register) {
    this.#tally = tally
    this.#topics = new Set(openings.map(({ topic }) => topic))
  }

  /** @returns whether the message is one of the tally's own */
  note(topic: string, text: string): boolean {
    const place = tallyPlace(this.#tally, topic)
    if (place?.kind === 'keeper') this.#keeper = text
    if (place?.kind === 'opening' && isSpoken(text)) this.#spoke.add(place.mark)
    if (isInside(topic, this.#tally)) return true
    this.#isHeard = true
    if (this.#topics.has(topic)) this.#isContactHeard = true
    return false
  }

  /** Last state that a keeper published. */
  get keeper(): string | undefined {
    return this.#keeper
  }

  /** Whether anything of the house was heard, a kept word too: then this account may read it. */
  get isHeard(): boolean {
    return this.#isHeard
  }

  /** Marks whose words the keeper has heard, while this account was handed not one word of any contact. */
  get heardByKeeperAlone(): readonly string[] {
    return this.#isContactHeard ? [] : [...this.#spoke].sort()
  }
}

/** Whether the last word in a keeper's reading is the contact's own or its last will. */
function isSpoken(text: string): boolean {
  const reading = parseReading(text)
  return reading?.last !== undefined && isContactWord(reading.last.word)
}
