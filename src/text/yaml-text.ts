/** A text in double quotes that every YAML reader takes back as the same text, whatever it holds. */
export const quoted = (value: string): string =>
  JSON.stringify(value).replace(
    /[\u007f-\u009f\u2028\u2029\ufeff\ufffe\uffff]/g,
    sign => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`,
  )

/** A text that stays on the line of its comment. */
export const comment = (text: string): string => text.replace(/[\p{C}\u2028\u2029]/gu, ' ')
