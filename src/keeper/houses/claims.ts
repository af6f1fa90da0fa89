import { addressesOf, brokerOf } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import type { Path } from '../../text/raw.ts'
import { nameOf } from './folder.ts'

/** What only one house may have. */
export interface Claim {
  /** As a sentence names it. */
  readonly what: string
  /** Name of its broker; undefined: anywhere. */
  readonly at?: string
  /** Why two may not have it. */
  readonly why: string
  /** Place of it in the register; undefined: it does not stand there. */
  readonly path?: Path
  /** Of the register, from 1; undefined: of the whole file. */
  readonly line?: number
}

/** The same claim of two files. */
export interface Clash {
  readonly claim: Claim
  readonly holder: string
  readonly held: Claim
}

interface Held {
  readonly file: string
  readonly claim: Claim
}

/** What only one house may have: the file that came first has it, until it lets go. */
export class Claims {
  readonly #holders = new Map<string, Held>()
  readonly #claims = new Map<string, readonly Claim[]>()

  /**
   * Takes all of `wanted`, in the place of what `file` had before, or changes nothing.
   * @returns what other files have of it
   */
  take(file: string, wanted: readonly Claim[]): readonly Clash[] {
    const clashes = wanted.flatMap((claim): Clash[] => {
      const held = this.#holders.get(keyOf(claim))
      return held && held.file !== file ? [{ claim, holder: held.file, held: held.claim }] : []
    })
    if (clashes.length > 0) return clashes
    this.release(file)
    this.#claims.set(file, wanted)
    for (const claim of wanted) this.#holders.set(keyOf(claim), { file, claim })
    return []
  }

  release(file: string): void {
    for (const claim of this.#claims.get(file) ?? []) this.#holders.delete(keyOf(claim))
    this.#claims.delete(file)
  }
}

const keyOf = ({ what, at }: Claim): string => (at === undefined ? what : `${what} at ${at}`)

/**
 * What houses claim that another before them has, each once, however many addresses their broker has.
 * @param houses - by file
 */
export function clashesOf(houses: ReadonlyMap<string, Register>): ReadonlyMap<string, readonly Clash[]> {
  const first = new Map<string, Held>()
  return new Map(
    [...houses].map(([file, register]): [string, readonly Clash[]] => {
      const clashes = new Map<string, Clash>()
      for (const claim of claimsOf(nameOf(file), register)) {
        const held = first.get(keyOf(claim))
        if (!held) first.set(keyOf(claim), { file, claim })
        else if (held.file !== file && !clashes.has(claim.what))
          clashes.set(claim.what, { claim, holder: held.file, held: held.claim })
      }
      return [file, [...clashes.values()]]
    }),
  )
}

/** Two places and what both have, as a sentence. */
export const clashSentence = (file: string, { claim, holder, held }: Clash): string =>
  `${placeOf(file, claim)} and ${placeOf(holder, held)} both have ${keyOf(claim)}: ${claim.why}`

const placeOf = (file: string, { line }: Claim): string => (line === undefined ? file : `${file}:${line}`)

/** What a house claims: its name, and what it has at its broker, at any of its addresses. */
export function claimsOf(name: string, { broker, tally, openings }: Register): readonly Claim[] {
  const addresses = [...addressesOf(broker, 'mqtt'), ...addressesOf(broker, 'websocket')]
  const atBroker = [...new Set(addresses.map(brokerNamed))].flatMap((at): Claim[] => [
    { what: `the tally ${tally}`, at, why: 'one keeper a house', path: ['tally'] },
    ...openings.flatMap(({ client, topic, line }, index): Claim[] => {
      const place = (key: string) => ({ at, line, path: ['openings', index, key] })
      return [
        { what: `the client id ${client}`, why: 'a broker keeps one of two clients with one id', ...place('client') },
        { what: `the topic ${topic}`, why: 'a word of one would count for the other', ...place('topic') },
      ]
    }),
  ])
  return [{ what: `the name ${name}`, why: 'one keeper a house' }, ...atBroker]
}

/** One broker, however its address is written. */
export function brokerNamed(address: string): string {
  const broker = brokerOf(address)
  return broker ? `${broker.host}:${broker.port}` : address
}
