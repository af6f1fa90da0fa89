/** How a picture looks to other eyes: luminance, colour-vision deficiencies, distance. */

export type Rgb = readonly [number, number, number]

const linear = (byte: number) => {
  const value = byte / 255
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4
}

export const hex = (colour: string): Rgb =>
  [1, 3, 5].map(i => Number.parseInt(colour.slice(i, i + 2), 16)) as unknown as Rgb

/** Relative luminance, 0 to 1: WCAG 2.2, "relative luminance" (with the threshold 0.04045 of IEC 61966-2-1). */
export const luminance = ([r, g, b]: Rgb) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)

/** WCAG 2.2, "contrast ratio". */
export function contrast(a: string, b: string): number {
  const [high, low] = [luminance(hex(a)), luminance(hex(b))].toSorted((x, y) => y - x) as [number, number]
  return (high + 0.05) / (low + 0.05)
}

/** CIE 1976 lightness of a relative luminance, 0 to 100. */
export const lightness = (y: number) => (y > 216 / 24389 ? 116 * Math.cbrt(y) - 16 : (y * 24389) / 27)

/**
 * Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency",
 * IEEE TVCG 15 (2009), severity 1.0, on linear RGB. The numbers are from memory; each row must keep greys grey.
 */
export const DEFICIENCIES = {
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritanopia: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
} as const
export type Deficiency = keyof typeof DEFICIENCIES

/** Lightness that is left of a colour to such an eye. */
export function lightnessFor(rgb: Rgb, deficiency?: Deficiency): number {
  const [r, g, b] = rgb.map(linear) as unknown as Rgb
  if (!deficiency) return lightness(luminance(rgb))
  const [nr, ng, nb] = DEFICIENCIES[deficiency].map(row =>
    Math.min(1, Math.max(0, row[0] * r + row[1] * g + row[2] * b)),
  ) as unknown as Rgb
  return lightness(0.2126 * nr + 0.7152 * ng + 0.0722 * nb)
}

/** A grey picture as rows of numbers, blurred by a Gaussian: what an eye makes of it from afar. */
export function blur(image: readonly (readonly number[])[], sigma: number): number[][] {
  const reach = Math.ceil(3 * sigma)
  const weights = Array.from({ length: 2 * reach + 1 }, (_, i) => Math.exp(-((i - reach) ** 2) / (2 * sigma * sigma)))
  const sum = weights.reduce((a, b) => a + b, 0)
  const along = (row: readonly number[]) =>
    row.map(
      (_, x) =>
        weights.reduce(
          (total, weight, i) => total + weight * row[Math.min(row.length - 1, Math.max(0, x + i - reach))]!,
          0,
        ) / sum,
    )
  const turn = (rows: readonly (readonly number[])[]) => rows[0]!.map((_, x) => rows.map(row => row[x]!))
  return turn(turn(image.map(along)).map(along))
}
