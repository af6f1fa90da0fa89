/** What a person sees as one character: marks, joiners and the halves of a flag belong to what stands before them. */
const characters = new Intl.Segmenter('en', { granularity: 'grapheme' })

/** Wide or fullwidth in Unicode's East Asian Width (UAX 11). */
const WIDE =
  /^[\u1100-\u115F\u2E80-\u303E\u3041-\u33FF\u3400-\u4DBF\u4E00-\uA4CF\uA960-\uA97F\uAC00-\uD7A3\uF900-\uFAFF\uFE10-\uFE19\uFE30-\uFE6F\uFF01-\uFF60\uFFE0-\uFFE6\u{16FE0}-\u{18DFF}\u{1AFF0}-\u{1B2FF}\u{20000}-\u{3FFFD}]/u
const NOTHING = /^[\p{Mn}\p{Me}\p{Cf}]$/u
/** One picture, whatever is joined to it, or shown as one because a selector or a modifier follows. */
const PICTURE = /^(?:\p{Emoji_Presentation}|\p{Emoji}(?:\uFE0F|\p{Emoji_Modifier})|\p{Regional_Indicator}{2})/u

const widthOfPart = (part: string): number => (NOTHING.test(part) ? 0 : WIDE.test(part) ? 2 : 1)
const widthOfOne = (character: string): number =>
  PICTURE.test(character) ? 2 : [...character].reduce((sum, part) => sum + widthOfPart(part), 0)

/** Each character that a person sees, with the columns that it takes on a terminal. */
export function* charactersOf(text: string): Generator<readonly [character: string, columns: number]> {
  // Most texts are plain, and need no table of Unicode.
  if (/^[\x20-\x7E]*$/.test(text)) for (const character of text) yield [character, 1]
  else for (const { segment } of characters.segment(text)) yield [segment, widthOfOne(segment)]
}

/** Columns that a text takes on a terminal. */
export function widthOf(text: string): number {
  let sum = 0
  for (const [, columns] of charactersOf(text)) sum += columns
  return sum
}

/** The text, cut with an ellipsis where it takes more columns than there are. */
export function fitted(text: string, columns: number): string {
  if (widthOf(text) <= columns) return text
  let [kept, used] = ['', 0]
  for (const [character, width] of charactersOf(text)) {
    if (used + width > columns - 1) break
    kept += character
    used += width
  }
  return `${kept}…`
}
