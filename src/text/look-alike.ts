/**
 * Signs that are drawn like a small Latin letter, by that letter; only for the letters that are asked for here.
 * Chosen by hand after the confusables of Unicode Technical Standard #39.
 */
const DRAWN_LIKE: Readonly<Record<string, string>> = {
  s: 'ѕꜱ$5',
  a: 'аαɑᴀ@4',
  h: 'һհʜ',
  t: 'тτᴛ+7',
  l: 'ӏǀІι1|!',
  y: 'уγүʏ',
}

const LETTERS = new Map(Object.entries(DRAWN_LIKE).flatMap(([letter, signs]) => [...signs].map(sign => [sign, letter])))

/** Compatible forms as one, without accents, and without what is not drawn: spaces, marks, format signs. */
const plain = (text: string): string =>
  text.normalize('NFKD').replace(/[\p{M}\p{C}\p{Z}\p{P}]/gu, sign => LETTERS.get(sign) ?? '')

/** A capital I and a small l are one stroke each. */
const drawn = (text: string): string =>
  [...plain(text)]
    .map(sign => LETTERS.get(sign) ?? (sign === 'I' ? 'l' : sign.toLowerCase()))
    .map(sign => LETTERS.get(sign) ?? sign)
    .join('')

/**
 * Whether a person may take `text` for `name`.
 * @param name - of small Latin letters
 */
export const looksLike = (text: string, name: string): boolean => drawn(text) === name
