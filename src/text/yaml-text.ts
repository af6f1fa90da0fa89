// JSON leaves these as they are; to readers of YAML 1.1 some of them end a line, others are not printable.
const TO_ESCAPE = /[\u007F-\u009F\u061C\u200E\u200F\u2028-\u202E\u2066-\u2069\uFEFF\uFFFE\uFFFF]/g

/** A text in double quotes, the same to readers of YAML 1.1, YAML 1.2 and JSON, whatever it holds. */
export const quoted = (text: string): string =>
  JSON.stringify(text).replace(TO_ESCAPE, c => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`)

/** A text that stays on the line of its comment. */
export const comment = (text: string): string => text.replace(/[\p{C}\u2028\u2029]/gu, ' ')
