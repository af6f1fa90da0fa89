import type { Ledger } from '../ledger/apply.ts'
import type { Store } from '../ledger/store.ts'
import type { Feed } from '../protocol/feed.ts'

/** Who this tablet is to the broker. */
export interface Credentials {
  readonly user: string
  readonly password: string
}

/** What the card needs of the world outside; `define.ts` hands in the real one, tests their own. */
export interface CardWorld {
  /** A link to the broker at a `ws:` or `wss:` URL. */
  feed?(url: string, credentials: Credentials | undefined): Feed
  /** The tally of one house, kept on this tablet. */
  store?(name: string): Store<Ledger>
  /** Milliseconds since the epoch. */
  now(): number
  /** Milliseconds on a clock that nobody can set. */
  elapsed(): number
}
