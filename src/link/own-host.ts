import { isIP } from 'node:net'
import { isLoopbackAddress } from '../text/loopback.ts'

/** Host name of a `Host` field, in lower case; undefined where the field names none. */
const nameOf = (host: string | undefined): string | undefined =>
  /^(\[[\da-f:.]+\]|[^:[\]/@\s]+)(:\d{1,5})?$/i.exec(host ?? '')?.[1]?.toLowerCase()

/**
 * A plain address cannot be rebound to another machine, a name can: so an unknown name in `Host` is refused.
 * @param names - host names that are this server's, beside `localhost` and plain addresses
 * @see RFC 9110 section 7.2 for the field
 */
export function isOwnHost(host: string | undefined, names: readonly string[] = []): boolean {
  const name = nameOf(host)
  if (name === undefined) return false
  return name === 'localhost' || isIP(name.replace(/^\[|\]$/g, '')) !== 0 || isNamed(name, names)
}

/**
 * Whether a page may open a WebSocket here: browsers let every page try, and say with `Origin` whose page it is. A page
 * of this machine may, one from the host under which the socket was asked for, and one of `names`. What sends no
 * `Origin` is no browser. A page without an origin of its own (`null`) is refused: any site can make one.
 * @see RFC 6455 section 10.2 for the check, RFC 6454 section 7 for the field
 */
export function isOwnOrigin(
  origin: string | undefined,
  host: string | undefined,
  names: readonly string[] = [],
): boolean {
  if (origin === undefined) return true
  const page = URL.canParse(origin) ? new URL(origin).hostname.toLowerCase() : ''
  if (page === '') return false
  return isLoopbackAddress(page) || isNamed(page, names) || (page === nameOf(host) && isOwnHost(host, names))
}

const isNamed = (name: string, names: readonly string[]): boolean => names.some(own => own.toLowerCase() === name)
