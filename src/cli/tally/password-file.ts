import { pbkdf2Sync, timingSafeEqual } from 'node:crypto'
import { accounts } from '../../emit/broker/access.ts'
import type { Register } from '../../register/types.ts'

/**
 * Accounts of the embedded broker, from a file of `name:hash` lines as `emit access --accounts` makes it: the hash is
 * `$7$rounds$salt$key`, PBKDF2 with HMAC-SHA-512 and Base64 (RFC 8018, section 5.2).
 */
export type PasswordHashes = ReadonlyMap<string, string>

/** @throws RangeError with the line that holds no account */
export function parsePasswordFile(text: string): PasswordHashes {
  const found = new Map<string, string>()
  text.split(/\r?\n/).forEach((line, index) => {
    if (line === '') return
    const [name = '', hash = ''] = [line.slice(0, line.indexOf(':')), line.slice(line.indexOf(':') + 1)]
    if (name === '' || !/^\$7\$\d{1,7}\$[A-Za-z0-9+/=]+\$[A-Za-z0-9+/=]+$/.test(hash)) {
      throw new RangeError(`line ${index + 1} is no account with a hashed password`)
    }
    found.set(name, hash)
  })
  return found
}

export function isPassword(hash: string, password: string): boolean {
  const [, , rounds = '', salt = '', key = ''] = hash.split('$')
  const wanted = Buffer.from(key, 'base64')
  const given = pbkdf2Sync(password, Buffer.from(salt, 'base64'), Number(rounds), wanted.length, 'sha512')
  return wanted.length > 0 && timingSafeEqual(wanted, given)
}

/** Whether everything that `wanted` can match is also matched by `allowed`; both are topic filters. */
function covers(allowed: string, wanted: string): boolean {
  const [a, w] = [allowed.split('/'), wanted.split('/')]
  for (let n = 0; ; n++) {
    if (a[n] === '#') return true
    if (n >= a.length || n >= w.length) return n >= a.length && n >= w.length
    if (w[n] === '#' || (a[n] !== '+' && a[n] !== w[n])) return false
  }
}

/** What an account may do at the broker: the same list that `emit access` writes for other brokers. */
export function mayDo(
  register: Register,
): (act: 'publish' | 'subscribe', topic: string, user: string | undefined) => boolean {
  const all = new Map(accounts(register).map(account => [account.user, account]))
  return (act, topic, user) => {
    const account = user === undefined ? undefined : all.get(user)
    const list = act === 'publish' ? account?.writes : account?.reads
    return list?.some(allowed => covers(allowed, topic)) ?? false
  }
}
