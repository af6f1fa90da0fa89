import { randomBytes } from 'node:crypto'
import type { Links } from '../../link/node/links.ts'
import type { Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import { askForPlace } from '../begin/place.ts'
import type { Tell } from '../log-codes.ts'
import { type NamedFile, watchAccount } from './account-watch.ts'

/** The keeper of a house, as the change of its account meets it. */
export interface AccountUser {
  readonly tell: Tell
  now(): number
  /** With the account that the file names now. */
  links(register: Register): Links | Promise<Links>
  /** A keeper at work with the account before, which the signal ends. */
  atWork(): { readonly register: Register; readonly signal: AbortSignal } | undefined
  /** @param what - what happened to the account, as a sentence */
  beginAnew(what: string): void
}

/** Follows the file of a house's account. A keeper at work goes on with what it has until the broker lets the other in. */
export function followAccount(account: NamedFile, user: AccountUser): Promise<{ stop(): void }> {
  let trial = new AbortController()
  const holds = (what: string): void => user.tell(`${what}; the account before it holds`, 'account')
  const changed = async (what: string): Promise<void> => {
    trial.abort()
    trial = new AbortController()
    if (await mayBeginAnew(user, trial.signal, why => holds(`${what}; ${why}`))) user.beginAnew(what)
  }
  return watchAccount(account, {
    changed: what => void changed(what),
    unreadable: what => {
      trial.abort()
      // Without a keeper, who wants to read it tells.
      if (user.atWork()) holds(what)
    },
  })
}

/**
 * Tries the account beside the keeper at work until the broker lets it in and gives back what it says: it asks for the
 * keeper's place, and whatever the answer, the account may read and write the tally.
 * @param refused - the account does not do yet; it is tried on, unless there is none
 * @returns false when the signal or the keeper ended, or there is no account
 */
async function mayBeginAnew(
  { atWork, links, now }: AccountUser,
  signal: AbortSignal,
  refused: (why: string) => void,
): Promise<boolean> {
  const at = atWork()
  if (!at) return true
  const { register } = at
  try {
    const found = await askForPlace({
      register,
      links: await links(register),
      signal: AbortSignal.any([signal, at.signal]),
      keeper: randomBytes(6).toString('hex'),
      now,
      // A broker that is not there is told by the keeper.
      tell: (text, code) => code !== 'link-down' && refused(text),
    })
    if (found?.free) await found.release()
    return found !== undefined
  } catch (error) {
    refused(messageOf(error))
    return false
  }
}
