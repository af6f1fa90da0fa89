/** A range as a person says it: whole openings, the lower end rounded down. */
export interface WholeRange {
  readonly low: number
  readonly middle: number
  readonly high: number
}

/** @param left - quantiles of the openings left, real numbers of 0 or more; `p95` may be Infinity */
export function wholeRange({
  p05,
  p50,
  p95,
}: {
  readonly p05: number
  readonly p50: number
  readonly p95: number
}): WholeRange {
  const middle = Math.round(p50)
  // what is whole but for rounding is not cut
  return { low: Math.min(middle, Math.floor(p05 + 1e-9)), middle, high: Math.max(middle, Math.round(p95)) }
}
