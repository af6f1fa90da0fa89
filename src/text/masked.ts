/** User and password in an address: what stands before the last @ sign. */
const IN_ADDRESS = /(?<=\b[a-z][\w+.-]{0,20}:\/\/)[^\s"']{0,300}(?=@)/gi
/** Keys whose values are nobody's business. */
export const SECRET = /pass|secret|psk|token|credential|user(?:name)?$|^ssid$/i
/** Longest key that is looked at. */
const LONGEST_KEY = 80
const KEY = /(?:"([^"]*)"|'([^']*)'|([^\s{},:"']+))\s*$/

const starred = (text: string): string => text.replace(/\S/gu, found => '*'.repeat(found.length))
/** A sentence without the user and password of an address. */
export const withoutUsers = (text: string): string => text.replace(IN_ADDRESS, starred)

/** The value at the head of `rest`; inside `{ }` a plain one ends at a comma or a brace. */
function valueAt(rest: string, before: string): string {
  const quoted = /^(?:"(?:[^"\\]|\\.)*"|'(?:[^']|'')*')/.exec(rest)?.[0]
  if (quoted !== undefined) return quoted
  return before.lastIndexOf('{') > before.lastIndexOf('}') ? /^[^,}]*/.exec(rest)![0] : rest
}

function maskedLine(line: string): string {
  let done = ''
  for (const { 0: colon, index } of line.matchAll(/:[ \t]*/g)) {
    if (index < done.length) continue
    const start = index + colon.length
    const key = KEY.exec(line.slice(Math.max(0, index - LONGEST_KEY), index))
    if (!SECRET.test(key?.[1] ?? key?.[2] ?? key?.[3] ?? '')) continue
    done += line.slice(done.length, start)
    done += starred(valueAt(line.slice(start), done))
  }
  return done + line.slice(done.length)
}

/** A text with every user, password and the like starred out, character for character: places stay where they are. */
export const masked = (text: string): string => withoutUsers(text).replace(/[^\n]+/g, maskedLine)

/** Lines above that are looked through for the key that a line belongs to. */
const FARTHEST = 200

/** One line of a text with its secrets starred out, those too whose key stands on a line above. */
export function maskedLineOf(lines: readonly string[], index: number): string {
  const line = lines[index] ?? ''
  const depth = indent(line)
  for (let above = index - 1; above >= Math.max(0, index - FARTHEST); above--) {
    const before = lines[above]!
    if (before.trim() === '' || indent(before) >= depth) continue
    // `password: |`, `password:` and `password: >-` begin a value that goes on below.
    const key = /^[ \t-]*(?:"([^"]*)"|'([^']*)'|([^\s{},:"']+))[ \t]*:[ \t]*(?:[|>][-+0-9]*)?[ \t]*(?:#.*)?$/.exec(
      before,
    )
    return SECRET.test(key?.[1] ?? key?.[2] ?? key?.[3] ?? '') ? starred(line) : masked(line)
  }
  return masked(line)
}

const indent = (line: string): number => line.length - line.trimStart().length
