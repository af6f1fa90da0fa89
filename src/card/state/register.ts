import type { Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import type { CardHouse } from './house.ts'

/** There is no register to be had. */
export type RegisterTrouble =
  | { readonly state: 'none' }
  | { readonly state: 'unread'; readonly url: string; readonly why: string }
  | { readonly state: 'bad'; readonly problems: readonly Problem[] }

/** What came of looking for it. */
export type RegisterFound = RegisterTrouble | { readonly state: 'read'; readonly register: Register }

export type RegisterStanding =
  | { readonly state: 'loading' }
  | RegisterTrouble
  | {
      readonly state: 'read'
      readonly register: Register
      /** The same as the sheet shows it. */
      readonly house: CardHouse
      /** Where it was read from; empty: among the element's children. */
      readonly url: string
      /** The register as it is now does not read: this is the last good one. */
      readonly trouble?: RegisterTrouble
    }
