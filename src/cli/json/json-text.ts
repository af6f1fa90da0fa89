/** A value as JSON; a figure that has no bound is left out, within a list it is null. */
export const jsonText = (value: unknown): string =>
  `${JSON.stringify(value, (_, v: unknown) => (typeof v === 'number' && !Number.isFinite(v) ? undefined : v), 2)}\n`
