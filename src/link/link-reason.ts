const LINKS: readonly (readonly [RegExp, string])[] = [
  [/ECONNREFUSED/, 'nothing listens there: is the broker running, and is this its port?'],
  [/ENOTFOUND|EAI_AGAIN/, 'no machine of that name was found: check the host in the register'],
  [/EHOSTUNREACH|ENETUNREACH|EHOSTDOWN/, 'there is no way to that machine: check the network'],
  [/ETIMEDOUT|gave no answer/, 'it does not answer: check the host, the port and what may stand between'],
  [/ECONNRESET|EPIPE/, 'it ended the connection: is this the port for this kind of address?'],
]

/** Why a broker could not be reached, in words for a person; a reason that is words already stays. */
export function linkReason(why: string): string {
  const found = LINKS.find(([pattern]) => pattern.test(why))
  const place = /\S+:\d+$/.exec(why)?.[0]
  return found ? `${place ? `${place}: ` : ''}${found[1]}` : why
}
