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

/** Names in the browser's storage by the topic prefix of a tally; tablets have kept under these since the first card. */
export const NAMES = {
  listened: (tally: string): string => `sashtally heard ${tally}`,
  keeper: (tally: string): string => `sashtally keeper ${tally}`,
  /** In the page's own storage the walk, in the tablet's the report. */
  walk: (tally: string): string => `sashtally round ${tally}`,
  /** Entries that a page had not kept when it was left. */
  late: (tally: string): string => `sashtally late ${tally}`,
  /** The times in which nobody listened. */
  deaf: (tally: string): string => `sashtally deaf ${tally}`,
  /** Topics of the contacts that were listened to. */
  topics: (tally: string): string => `sashtally topics ${tally}`,
} as const
