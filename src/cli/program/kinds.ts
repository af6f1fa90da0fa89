/** A value that was read, or what it should have been: `a number, 0 or more`. */
export type Reading<T> = { readonly value: T } | { readonly wants: string }

/** How a value on the command line is read. */
export interface Kind<T> {
  /** The values that there are, where they are few. */
  readonly choices?: readonly string[]
  read(given: string): Reading<T>
}

export const text: Kind<string> = { read: given => ({ value: given }) }

/** A file or folder. */
export const path: Kind<string> = { read: given => (given === '' ? { wants: 'a path' } : { value: given }) }

/** One of a few words, whatever the case. */
export const oneOf = <const Choice extends string>(choices: readonly Choice[]): Kind<Choice> => ({
  choices,
  read: given => {
    const value = choices.find(choice => choice.toLowerCase() === given.trim().toLowerCase())
    return value === undefined ? { wants: `one of ${choices.join(', ')}` } : { value }
  },
})

export interface Limits {
  /** Default 0. */
  readonly least?: number
  readonly most?: number
  /** The least value itself is too small. */
  readonly isAboveLeast?: boolean
}

const fits = (value: number, { least = 0, most = Number.POSITIVE_INFINITY, isAboveLeast = false }: Limits): boolean =>
  Number.isFinite(value) && value <= most && (isAboveLeast ? value > least : value >= least)

function limitsText({ least = 0, most, isAboveLeast }: Limits, unit = ''): string {
  if (isAboveLeast) return ` above ${least}${unit}${most === undefined ? '' : `, at most ${most}${unit}`}`
  return most === undefined ? `, ${least}${unit} or more` : ` from ${least} to ${most}${unit}`
}

/** A number without a unit, 0 or more unless the limits say otherwise. */
export const number = (limits: Limits & { readonly isWhole?: boolean } = {}): Kind<number> => ({
  read: given => {
    const value = /^\s*[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?\s*$/i.test(given) ? Number(given) : Number.NaN
    if (fits(value, limits) && (!limits.isWhole || Number.isInteger(value))) return { value }
    return { wants: `a ${limits.isWhole ? 'whole ' : ''}number${limitsText(limits)}` }
  },
})

const PREFIXES: Readonly<Record<string, number>> = { '': 1, m: 1e-3, u: 1e-6, µ: 1e-6, μ: 1e-6, n: 1e-9, k: 1e3 }
const EXAMPLES = { F: '47mF', A: '3mA', ohm: '1kohm', V: '2.3V' } as const

/**
 * A number with a unit as a person writes it: `47mF`, `0.047 F`, `3mA`, `1kohm`; read in the unit itself.
 * @param limits - in the unit; `bare`: what a number without a unit is counted in; absent: a unit is needed
 */
export const quantity = (
  unit: keyof typeof EXAMPLES,
  { bare, ...limits }: Limits & { readonly bare?: number } = {},
): Kind<number> => ({
  read: given => {
    const match = /^\s*([0-9]*\.?[0-9]+(?:e[-+]?[0-9]+)?)\s*([mnkuµμ]?)(F|A|ohm|V)?\s*$/i.exec(given)
    const [, digits = '', prefix = '', typed] = match ?? []
    const factor = typed === undefined ? (prefix === '' ? bare : undefined) : PREFIXES[prefix]
    const value = Number(digits) * (factor ?? Number.NaN)
    const isUnit = typed === undefined || typed.toLowerCase() === unit.toLowerCase()
    if (match && isUnit && fits(value, limits)) return { value }
    return { wants: `a number with its unit, such as ${EXAMPLES[unit]},${limitsText(limits, ` ${unit}`)}` }
  },
})
