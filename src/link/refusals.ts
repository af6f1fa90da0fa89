import { willSeconds } from '../protocol/last-will.ts'
import { firstOf } from '../text/lists.ts'

/** Session taken over (MQTT 5, 3.14.2.1). */
export const SESSION_TAKEN = 142

/** Not a code of MQTT: the broker closed the link again and again, and said nothing. */
export const SHORT_LIVED = -1

/** What a broker's reason code means to the person: MQTT 3.1.1 table 3.1 and MQTT 5.0 section 2.4. */
const WHY: Readonly<Record<number, string>> = {
  [SHORT_LIVED]: 'the broker closes the link soon after it is made: perhaps another client has the same client id',
  1: 'the broker does not speak this version of MQTT',
  2: 'the broker does not accept the client id',
  3: 'the broker is there but not ready',
  4: 'the broker does not know this user name and password',
  5: 'the broker does not let this account in',
  129: 'the broker could not read what was sent',
  130: 'the broker reports a protocol error',
  132: 'the broker does not speak this version of MQTT',
  133: 'the broker does not accept the client id',
  134: 'the broker does not know this user name and password',
  135: 'the broker does not let this account in',
  136: 'the broker is there but not ready',
  137: 'the broker is busy',
  138: 'the broker has banned this client',
  139: 'the broker is shutting down',
  141: 'the broker heard nothing for one and a half keep-alives',
  [SESSION_TAKEN]: 'another client came with the same client id',
  149: 'the broker found a packet too large',
  150: 'the broker says that messages come too fast',
  151: 'the broker says that a quota is used up',
  152: 'the broker ended the link on its administrator’s word',
  159: 'the broker says that connections come too fast',
}

export const answeredNothing = (milliseconds: number): string =>
  `the broker gave no answer within ${milliseconds / 1000} s`

export const keptSilent = (keepAliveSeconds: number): string =>
  `the broker was silent for ${willSeconds(keepAliveSeconds)} s, and did not answer a ping`

/** A sentence for a reason code; undefined for success and codes without one. */
export function whyOf(code: number, clientId: string): string | undefined {
  const why = WHY[code]
  return why?.includes('client id') ? `${why} ${JSON.stringify(clientId)}` : why
}

/** Why a broker of MQTT 5 did not take a message: MQTT 5.0, table 3-4. */
const WHY_NOT_TAKEN: Readonly<Record<number, string>> = {
  135: 'it does not let this account publish there',
  144: 'it does not allow a topic of that name',
  149: 'it is too large',
  151: 'a quota is used up',
  153: 'its payload is not what was announced',
}

/** The end of a sentence about a message that was not taken. */
export const whyNotTaken = (code: number): string => WHY_NOT_TAKEN[code] ?? `reason code ${code}`

/** True where the account may not publish there: not authorised in MQTT 5.0, table 3-4. */
export const isForbidden = (code: number): boolean => code === 135

/** Topics in a sentence: three of them, and how many more. */
export function named(topics: readonly string[]): string {
  return firstOf(
    topics.map(topic => (topic.length > 80 ? `${topic.slice(0, 79)}…` : topic)),
    4,
  )
}

/** Unacceptable protocol version: 1 in MQTT 3.1.1, 132 in MQTT 5. */
export const isVersionRefusal = (code: number | undefined): boolean => code === 1 || code === 132

/**
 * True when another user name or password may help: bad user name or password, not authorised (4 and 5 in MQTT 3.1.1
 * table 3.1, 134 and 135 in MQTT 5.0 section 2.4). A broker that is busy, shut or has banned the client does not mean the account.
 */
export const isAccountRefusal = (code: number): boolean => [4, 5, 134, 135].includes(code)

/**
 * True when another node of the same broker may let the client in: not ready, busy, shutting down (3 in MQTT 3.1.1
 * table 3.1; MQTT 5.0 section 2.4).
 */
export const isNodeRefusal = (code: number): boolean => [3, 136, 137, 139].includes(code)

const SCHEMES = ['mqtt:', 'mqtts:', 'ws:', 'wss:']

/** What is wrong with the address of a broker; undefined when nothing is. */
export function addressFault(address: string): string | undefined {
  let url: URL
  try {
    url = new URL(address)
  } catch {
    return `${JSON.stringify(address.slice(0, 200))} is no address of a broker; it should look like mqtt://127.0.0.1:1883`
  }
  if (!SCHEMES.includes(url.protocol)) {
    return `the address of a broker begins with mqtt:, mqtts:, ws: or wss:, not with ${url.protocol}`
  }
  if (url.username || url.password) return 'the address of a broker holds no user name and no password: give them apart'
  if (!url.hostname) return `${JSON.stringify(address.slice(0, 200))} is no address of a broker: it names no host`
  return undefined
}
