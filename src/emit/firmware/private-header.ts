import type { Register } from '../../register/types.ts'
import { cString, cText } from './c-text.ts'

/** Name of the file that holds what only the modules may know. */
export const PRIVATE_HEADER = 'private.h'

/** A mark as part of a C macro's name: `D-2` as `D_2`. Marks differ whatever their case, so these differ too. */
export const macroOf = (mark: string): string => mark.toUpperCase().replaceAll('-', '_')

const TALLY = 'PRIVATE_TALLY'
const WIFI_PASSWORD = 'PRIVATE_WIFI_PASSWORD'
const passwordOf = (mark: string): string => `PRIVATE_PASSWORD_${macroOf(mark)}`
const empty = (macro: string): string => `/* #define ${macro} "" */`

/** The file as it is written once: it compiles, and holds nothing yet. */
export function privateHeader(register: Register): string {
  const named = register.openings.length > 0 && register.openings.every(({ wifi }) => wifi?.name !== undefined)
  return `/* What only your modules may know. This file is yours: it is filled in, never written over. Keep it out of version
 * control, and erase a module's flash before it leaves the house. A line between comment signs is still empty.
 */
#ifndef SASHTALLY_PRIVATE_H
#define SASHTALLY_PRIVATE_H

/* Of which house it is, by its tally. */
#define ${TALLY} ${cString(register.tally)}

${named ? '' : `/* Your network, where the register does not name it (wifi: { name: ... }). */\n${empty('PRIVATE_WIFI_NAME')}\n`}/* Its password; an open network has "". */
${empty(WIFI_PASSWORD)}

/* The password of each contact's account at the broker; the user name is its client id.
 * sashtally emit access FILE --accounts PASSWORDS --private private.h fills them in.
 */
${register.openings.map(({ mark }) => empty(passwordOf(mark))).join('\n')}
/* A broker that asks nobody for a password: */
/* #define PRIVATE_BROKER_IS_OPEN 1 */
${
  register.broker.mqtt === undefined
    ? `
/* Your broker, which the register does not name. */
/* #define CONTACT_BROKER_HOST "broker.lan" */
/* #define CONTACT_BROKER_PORT 1883 */
/* #define CONTACT_BROKER_TLS 0 */
`
    : ''
}
/* For your own port, where it needs them: the way out of the network with a fixed address; with TLS the certificate
 * that signed your broker's.
 */
${empty('PRIVATE_GATEWAY')}
${empty('PRIVATE_NETMASK')}
${empty('PRIVATE_BROKER_CA')}

#endif
`
}

/** A line that gives a macro, or leaves it empty between comment signs. */
const LINE = /^[ \t]*(?:\/\*[ \t]*)?#[ \t]*define[ \t]+(PRIVATE_[A-Z0-9_]+)(?:[ \t]+("(?:[^"\\]|\\.)*"))?.*$/

const isEmptyLine = (line: string): boolean => /^[ \t]*\/\*/.test(line)

/** What stands in a private header: the C literal of each macro that is filled in. */
export function privateMacros(text: string): ReadonlyMap<string, string> {
  const found = new Map<string, string>()
  for (const line of text.split(/\r?\n/)) {
    const [, macro, literal] = LINE.exec(line) ?? []
    if (macro !== undefined && literal !== undefined && !isEmptyLine(line)) found.set(macro, literal)
  }
  return found
}

/** The tally of the house that a private header says it is of; undefined: it does not say. */
export function privateTally(text: string): string | undefined {
  const literal = privateMacros(text).get(TALLY)
  return literal === undefined ? undefined : cText(literal)
}

/** The C literals of the passwords that a private header holds: of the network, and of each contact by its mark. */
export function privatePasswords(text: string, marks: readonly string[]) {
  const macros = privateMacros(text)
  const network = macros.get(WIFI_PASSWORD)
  return {
    ...(network === undefined ? {} : { network }),
    contacts: new Map(
      marks.flatMap(mark => {
        const literal = macros.get(passwordOf(mark))
        return literal === undefined ? [] : [[mark, literal] as const]
      }),
    ),
  }
}

/**
 * A private header with the passwords of contacts filled in; every other byte stays as it was. A line that is still
 * empty is filled only where no other gives the macro: the compiler takes the last. A mark that has no line gets one, after the last contact's line or before the last `#endif`.
 * @param passwords - by mark
 * @throws RangeError when there is neither such a line nor an `#endif`
 */
export function fillPrivate(text: string, passwords: ReadonlyMap<string, string>): string {
  const wanted = new Map([...passwords].map(([mark, password]) => [passwordOf(mark), cString(password)]))
  const given = new Set(text.split(/\r?\n/).flatMap(line => (isEmptyLine(line) ? [] : (LINE.exec(line)?.[1] ?? []))))
  const filled = text.replace(/^.*$/gm, line => {
    const macro = LINE.exec(line)?.[1] ?? ''
    const literal = wanted.get(macro)
    if (literal === undefined || (isEmptyLine(line) && given.has(macro))) return line
    given.add(macro)
    return `#define ${macro} ${literal}`
  })
  for (const macro of given) wanted.delete(macro)
  return withMacros(filled, wanted)
}

/**
 * A private header that says of which house it is; one that says so already stays as it is.
 * @throws RangeError as `fillPrivate`
 */
export const ownedPrivate = (text: string, tally: string): string =>
  privateTally(text) === undefined ? withMacros(text, new Map([[TALLY, cString(tally)]])) : text

function withMacros(text: string, macros: ReadonlyMap<string, string>): string {
  if (macros.size === 0) return text
  const lines = text.split(/(?<=\n)/)
  const contact = lines.findLastIndex(line => LINE.exec(line.trimEnd())?.[1]?.startsWith(passwordOf('')))
  const at = contact >= 0 ? contact + 1 : lines.findLastIndex(line => /^\s*#\s*endif\b/.test(line))
  if (at < 0) throw new RangeError('it has no #endif before which a line could be put')
  const end = text.includes('\r\n') ? '\r\n' : '\n'
  const more = [...macros].map(([macro, literal]) => `#define ${macro} ${literal}${end}`)
  return [...lines.slice(0, at), ...more, ...lines.slice(at)].join('')
}
