/** What a browser would rather have. */

interface Wish {
  readonly what: string
  /** From 0, not at all, to 1. */
  readonly weight: number
}

/** @see RFC 9110 section 12.4.2 for weights; 1 where none is given */
function wishesOf(field: string): readonly Wish[] {
  return field
    .toLowerCase()
    .split(',')
    .map(wish => {
      const [what = '', ...parameters] = wish.split(';').map(part => part.trim())
      const weight = parameters.find(part => part.startsWith('q='))?.slice(2)
      return { what, weight: weight === undefined ? 1 : Number(weight) }
    })
}

const LANGS = ['en', 'de'] as const
export type Lang = (typeof LANGS)[number]

/**
 * The language of the card that the browser likes best; English where it names none of them.
 * @see RFC 9110 section 12.5.4 for the field
 */
export function langOf(acceptLanguage = ''): Lang {
  const wishes = wishesOf(acceptLanguage).map(({ what, weight }) => ({
    lang: LANGS.find(lang => lang === what.split('-')[0]),
    weight,
  }))
  const [best] = wishes.filter(({ lang, weight }) => lang && weight > 0).sort((a, b) => b.weight - a.weight)
  return best?.lang ?? 'en'
}

/** @see RFC 9110 section 12.5.3 for the field */
export function takesGzip(acceptEncoding = ''): boolean {
  const wishes = wishesOf(acceptEncoding)
  const wish = wishes.find(({ what }) => what === 'gzip') ?? wishes.find(({ what }) => what === '*')
  return wish !== undefined && wish.weight > 0
}
