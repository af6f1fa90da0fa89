/** The value, or the nearer end where the value lies outside; `least` wins where the ends cross. */
export const clamp = (value: number, least: number, most: number): number => Math.max(least, Math.min(most, value))
