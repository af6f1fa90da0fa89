/** User and password in an address: what stands before the last @ sign. */
const IN_ADDRESS = /(?<=\b[a-z][\w+.-]{0,20}:\/\/)[^\s"']{0,300}(?=@)/gi
const SECRET = /pass|secret|psk|token|credential|user(?:name)?$|^ssid$/i
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
