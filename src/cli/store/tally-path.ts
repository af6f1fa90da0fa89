import { EXIT, Stop } from '../world.ts'

/** Where a tally is: a file of one entry a line, or the folder of a keeper. */
export interface TallyPath {
  readonly kind: 'file' | 'folder'
  /** As the person wrote it. */
  readonly path: string
}

/**
 * The tally that options name; undefined where they name none.
 * @throws Stop exit 2 when they name two
 */
export function tallyPathOf(options: {
  readonly tally: string | undefined
  readonly data: string | undefined
}): TallyPath | undefined {
  const { tally, data } = options
  if (tally !== undefined && data !== undefined) throw new Stop(EXIT.usage, 'give --tally or --data, not both')
  if (tally !== undefined) return { kind: 'file', path: tally }
  return data === undefined ? undefined : { kind: 'folder', path: data }
}
