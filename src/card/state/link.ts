import type { LinkState } from '../../protocol/feed.ts'

/** Why there is no link at all; the sheet says it in its own words. */
export type LinkFault = 'none' | 'bad' | 'mixed'

/** No broker is dialled. */
export interface LinkOff {
  readonly state: 'off'
  readonly since: number
  readonly fault: LinkFault
}

export type LinkStanding =
  | (LinkState & {
      /** The link stands, but not everything may be heard: why. */
      readonly partial?: string
      /** The topic filters that may not. */
      readonly unreadable?: readonly string[]
    })
  | LinkOff

/** The link to the broker; times are milliseconds since the epoch. */
export interface Link {
  readonly standing: LinkStanding
  /** Since when it has been live without a gap. */
  readonly liveSince: number | undefined
  /** When it was last known to be live. */
  readonly liveAt: number | undefined
  /** When the last live word came; undefined before the first. */
  readonly lastWordAt: number | undefined
  /** Anything at all, kept copies too, was heard from this broker with this account. */
  readonly hasHeard: boolean
}

export const noLink: Link = {
  standing: { state: 'off', since: 0, fault: 'none' },
  liveSince: undefined,
  liveAt: undefined,
  lastWordAt: undefined,
  hasHeard: false,
}

export const isLive = ({ standing }: Link): boolean => standing.state === 'live'

/** The broker's kept copies come at once: what has not come by then was not kept, or this account may not read it. */
const KEPT_MILLISECONDS = 20_000

/** The link has stood for long enough to have brought what the broker keeps. */
export const hasStood = ({ liveSince }: Link, now: number): boolean =>
  liveSince !== undefined && Math.abs(now - liveSince) > KEPT_MILLISECONDS

export const hearsNothing = (link: Link, now: number): boolean => !link.hasHeard && hasStood(link, now)

/** The contacts themselves are heard, all of them. */
export const hearsAll = ({ standing }: Link): boolean => standing.state === 'live' && !standing.partial
