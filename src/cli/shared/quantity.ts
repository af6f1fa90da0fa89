import { EXIT, Stop } from '../world.ts'

const PREFIXES: Readonly<Record<string, number>> = { '': 1, m: 1e-3, u: 1e-6, µ: 1e-6, μ: 1e-6, n: 1e-9, k: 1e3 }

/**
 * Reads a number with a unit as a person writes it: `47mF`, `0.047 F`, `3mA`, `1kohm`.
 * @param option - for the message, e.g. `--lamp`
 * @param bare - what a number without a unit is counted in; absent: a unit is needed
 * @returns the value in the unit itself: farads, amps, ohms
 * @throws Stop exit 2 with the rule and what was found
 */
export function quantity(text: string, unit: 'F' | 'A' | 'ohm' | 'V', option: string, bare?: number): number {
  const match = /^\s*([0-9]*\.?[0-9]+(?:e[-+]?[0-9]+)?)\s*([mnkuµμ]?)(F|A|ohm|V)?\s*$/i.exec(text)
  const [, digits = '', prefix = '', given] = match ?? []
  const factor = given === undefined ? (prefix === '' ? bare : undefined) : PREFIXES[prefix]
  const value = Number(digits) * (factor ?? Number.NaN)
  if (match && (given === undefined || given.toLowerCase() === unit.toLowerCase()) && Number.isFinite(value))
    return value
  const example = { F: '47mF', A: '3mA', ohm: '1kohm', V: '2.3V' }[unit]
  throw new Stop(
    EXIT.usage,
    `${option} wants a number with its unit, such as ${example}; found ${JSON.stringify(text)}`,
  )
}

/** A plain number, 0 or more. @throws Stop exit 2 */
export function plainNumber(text: string, option: string, least = 0): number {
  const value = /^\s*[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?\s*$/i.test(text) ? Number(text) : Number.NaN
  if (Number.isFinite(value) && value >= least) return value
  throw new Stop(EXIT.usage, `${option} wants a number, ${least} or more; found ${JSON.stringify(text)}`)
}
