// JSON leaves these as they are; to readers of YAML 1.1 some of them end a line, others are not printable.
const TO_ESCAPE = /[\u007F-\u009F\u061C\u200E\u200F\u2028-\u202E\u2066-\u2069\uFEFF\uFFFE\uFFFF]/g

/** A text in double quotes, the same to readers of YAML 1.1, YAML 1.2 and JSON, whatever it holds. */
export const quoted = (text: string): string =>
  JSON.stringify(text).replace(TO_ESCAPE, c => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`)

/** Begins with a letter, and holds nothing that means something to YAML; neither a number nor one of its words. */
const PLAIN = /^(?!(?:y|n|yes|no|on|off|true|false|null)$)\p{L}(?:[\p{L}\p{M}\p{N} ./&()’'-]*[\p{L}\p{M}\p{N}.)])?$/iu

/** A text as a person would write it: without quotes where it needs none, in single quotes where those will do. */
export function readable(text: string): string {
  if (PLAIN.test(text)) return text
  return /['\p{C}]/u.test(text) || quoted(text).includes('\\u') ? quoted(text) : `'${text}'`
}

/** A text that stays on the line of its comment. */
export const comment = (text: string): string => text.replace(/[\p{C}\u2028\u2029]/gu, ' ')
