/**
 * Until when this tablet listened to its house, over reloads too: what opened in a gap was not heard. Of several pages
 * the one that keeps the tally writes it down: what another one hears is kept by nobody. Times are milliseconds since
 * the epoch.
 */
export interface Listening {
  /** The register's `tally`. */
  readonly house: string | undefined
  /** Since when and until when this page listened without a gap. */
  readonly since: number | undefined
  readonly until: number | undefined
  readonly writtenAt: number
}

export const notListening: Listening = {
  house: undefined,
  since: undefined,
  until: undefined,
  writtenAt: Number.NEGATIVE_INFINITY,
}
