/** A value for a message; NaN and Infinity keep their names inside lists and objects too. */
export const shownValue = (value: unknown): string =>
  typeof value === 'number'
    ? String(value)
    : String(JSON.stringify(value, (_, v: unknown) => (typeof v === 'number' && !Number.isFinite(v) ? String(v) : v)))

/** @throws RangeError that names the argument and the value */
export function must(ok: boolean, name: string, value: unknown, rule: string): void {
  if (!ok) throw new RangeError(`${name} must be ${rule}, got ${shownValue(value)}`)
}
