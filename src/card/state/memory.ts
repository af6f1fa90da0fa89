/** What this tablet keeps of a house beside its tally, as text, and under which names. */
export interface Memory {
  /** Until when it listened; undefined: nothing is kept, here and below. */
  readonly listened: string | undefined
  /** That a keeper works there. */
  readonly keeper: string | undefined
  /** A walk that is under way on this page. */
  readonly walk: string | undefined
  /** The report of the last walk. */
  readonly report: string | undefined
}

/**
 * Names in the browser's storage. What a wall counts itself goes by the topic prefix of the tally alone, since a broker
 * may move; what may belong to a keeper, by the house, since two keepers at two brokers may have one prefix.
 */
export const NAMES = {
  listened: (tally: string): string => `sashtally heard ${tally}`,
  keeper: (house: string): string => `sashtally keeper ${house}`,
  /** In the page's own storage the walk, in the tablet's the report. */
  walk: (house: string): string => `sashtally round ${house}`,
  /** Entries that a page had not kept when it was left. */
  late: (tally: string): string => `sashtally late ${tally}`,
  /** The times in which nobody listened. */
  deaf: (tally: string): string => `sashtally deaf ${tally}`,
  /** Topics of the contacts that were listened to. */
  topics: (tally: string): string => `sashtally topics ${tally}`,
} as const
