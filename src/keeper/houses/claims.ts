import { addressesOf, brokerOf, isInside } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import type { Path } from '../../text/raw.ts'
import { once } from '../once.ts'
import { nameOf } from './folder.ts'

/** What only one house may have. */
export interface Claim {
  /** As a sentence names it. */
  readonly what: string
  /** Name of its broker; undefined: anywhere. */
  readonly at?: string
  /** Why two may not have it. */
  readonly why: string
  /** Topic that it is; with `isTree` all topics below it too, as the accounts of a tally have them. */
  readonly topic?: string
  readonly isTree?: boolean
  /** Place of it in the register; undefined: it does not stand there. */
  readonly path?: Path
  /** Of the register, from 1; undefined: of the whole file. */
  readonly line?: number
}

/** The same claim of two files, or one that holds the other. */
export interface Clash {
  readonly claim: Claim
  readonly holder: string
  readonly held: Claim
}

interface Holding {
  readonly file: string
  readonly claim: Claim
}

/** What files have of what only one may have. */
class Holders {
  readonly #held = new Map<string, Holding>()
  /** By each tally that would have its topic: a house that comes to many others need not look at all they have. */
  readonly #inside = new Map<string, Set<Holding>>()

  add(file: string, claim: Claim): void {
    this.remove(claim)
    const holding = { file, claim }
    this.#held.set(keyOf(claim), holding)
    for (const tree of treesOver(claim)) this.#inside.set(tree, (this.#inside.get(tree) ?? new Set()).add(holding))
  }

  remove(claim: Claim): void {
    const holding = this.#held.get(keyOf(claim))
    if (!holding) return
    this.#held.delete(keyOf(claim))
    for (const tree of treesOver(claim)) {
      const inside = this.#inside.get(tree)
      inside?.delete(holding)
      if (inside?.size === 0) this.#inside.delete(tree)
    }
  }

  /** @returns of what another file has the first that stands against it */
  clash(file: string, claim: Claim): Clash | undefined {
    for (const { file: holder, claim: held } of this.#against(claim))
      if (holder !== file) return { claim, holder, held }
    return undefined
  }

  *#against(claim: Claim) {
    for (const key of [keyOf(claim), ...treesOver(claim)]) {
      const held = this.#held.get(key)
      if (held) yield held
    }
    if (claim.isTree) yield* this.#inside.get(keyOf(claim)) ?? []
  }
}

/** What only one house may have: the file that came first has it, until it lets go. */
export class Claims {
  readonly #holders = new Holders()
  readonly #claims = new Map<string, readonly Claim[]>()
  #next = once()

  /** Resolves when a file next lets go of something. */
  get freed(): Promise<void> {
    return this.#next.when
  }

  /** The file has what it claims. */
  isHolder(file: string): boolean {
    return this.#claims.has(file)
  }

  /** What other files have of it. */
  clashes(file: string, wanted: readonly Claim[]): readonly Clash[] {
    return wanted.flatMap(claim => this.#holders.clash(file, claim) ?? [])
  }

  /**
   * Takes all of `wanted`, in the place of what `file` had before, or changes nothing.
   * @returns what other files have of it
   */
  take(file: string, wanted: readonly Claim[]): readonly Clash[] {
    const clashes = this.clashes(file, wanted)
    if (clashes.length > 0) return clashes
    this.release(file)
    this.#claims.set(file, wanted)
    for (const claim of wanted) this.#holders.add(file, claim)
    return []
  }

  /** As `take`, but `file` keeps what it had, until it takes again. */
  takeToo(file: string, wanted: readonly Claim[]): readonly Clash[] {
    return this.take(file, [...(this.#claims.get(file) ?? []), ...wanted])
  }

  release(file: string): void {
    for (const claim of this.#claims.get(file) ?? []) this.#holders.remove(claim)
    if (!this.#claims.delete(file)) return
    this.#next.now()
    this.#next = once()
  }
}

const keyOf = ({ what, at }: { readonly what: string; readonly at?: string | undefined }): string =>
  at === undefined ? what : `${what} at ${at}`
const theTally = (tally: string): string => `the tally ${tally}`

/** Keys of the tallies that would have its topic: itself and each above it. */
function treesOver({ topic, at }: Claim): readonly string[] {
  const levels = topic?.split('/') ?? []
  return levels.map((_, index) => keyOf({ what: theTally(levels.slice(0, index + 1).join('/')), at }))
}

const holds = (outer: Claim, inner: Claim): boolean =>
  outer.isTree === true && outer.topic !== undefined && inner.topic !== undefined && isInside(inner.topic, outer.topic)

/**
 * What houses claim that another has too, at both: which of them came first nobody can see. Each once, however many
 * addresses their broker has.
 * @param houses - by file
 */
export function clashesOf(houses: ReadonlyMap<string, Register>): ReadonlyMap<string, readonly Clash[]> {
  const holders = new Holders()
  const found = new Map([...houses.keys()].map(file => [file, new Map<string, Clash>()]))
  const add = (file: string, clash: Clash): void => {
    const key = JSON.stringify([clash.claim.what, clash.held.what, clash.holder])
    if (!found.get(file)?.has(key)) found.get(file)?.set(key, clash)
  }
  for (const [file, register] of houses)
    for (const claim of claimsOf(nameOf(file), register)) {
      const clash = holders.clash(file, claim)
      if (!clash) holders.add(file, claim)
      else {
        add(file, clash)
        add(clash.holder, { claim: clash.held, holder: file, held: claim })
      }
    }
  return new Map([...found].map(([file, clashes]) => [file, [...clashes.values()]]))
}

/** Two places and what both have, as a sentence that is safe to print. */
export const clashSentence = (file: string, clash: Clash): string => tame(sentenceOf(file, clash))

function sentenceOf(file: string, { claim, holder, held }: Clash): string {
  const [here, there] = [placeOf(file, claim), placeOf(holder, held)]
  if (keyOf(claim) === keyOf(held)) return `${here} and ${there} both have ${keyOf(claim)}: ${claim.why}`
  return holds(held, claim) ? within(here, claim, there, held) : within(there, held, here, claim)
}

const within = (place: string, inner: Claim, around: string, outer: Claim): string =>
  `${place} has ${inner.what} inside ${outer.what} of ${around} at ${inner.at}: accounts of a tally reach all topics below it; give each house topics of its own`

const placeOf = (file: string, { line }: Claim): string => (line === undefined ? file : `${file}:${line}`)

/** What a house claims: its name, and what it has at its broker, at any of its addresses. */
export function claimsOf(name: string, { broker, tally, openings }: Register): readonly Claim[] {
  const addresses = [...addressesOf(broker, 'mqtt'), ...addressesOf(broker, 'websocket')]
  const atBroker = [...new Set(addresses.map(brokerNamed))].flatMap((at): Claim[] => [
    { what: theTally(tally), at, why: 'one keeper a house', topic: tally, isTree: true, path: ['tally'] },
    ...openings.flatMap(({ client, topic, line }, index): Claim[] => {
      const place = (key: string) => ({ at, line, path: ['openings', index, key] })
      return [
        { what: `the client id ${client}`, why: 'a broker keeps one of two clients with one id', ...place('client') },
        { what: `the topic ${topic}`, why: 'a word of one would count for the other', topic, ...place('topic') },
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
