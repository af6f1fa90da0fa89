import { earsOf } from '../../house/policy.ts'
import { hear } from '../../ledger/hear.ts'
import type { Heard } from '../../protocol/feed.ts'
import type { Register } from '../../register/types.ts'
import { clockTime } from '../../text/local-time.ts'
import { iso } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { World } from '../world.ts'
import type { SpokenWords } from './rehearse-kept.ts'

/** What the broker hands on of the contacts' words, as hub and wall hear it. */
export class HeardBack {
  readonly #register: Register
  readonly #spoken: SpokenWords
  readonly #say: (line: string) => void
  readonly #world: World
  #count = 0

  constructor(register: Register, spoken: SpokenWords, say: (line: string) => void, world: World) {
    this.#register = register
    this.#spoken = spoken
    this.#say = say
    this.#world = world
  }

  /** Live messages so far. */
  get count(): number {
    return this.#count
  }

  add(message: Heard): void {
    if (message.retain) return
    this.#count++
    this.#spoken.hear(message.topic, utf8Text(message.payload))
    const at = iso(this.#world.now())
    const entry = hear(earsOf(this.#register), message, { id: 'heard', at })
    const what = entry
      ? `${entry.mark} is heard: ${entry.what}`
      : `a word on ${message.topic}, which is no contact’s topic`
    this.#say(`${clockTime(at, this.#register.timezone)}    ${what}`)
  }
}
