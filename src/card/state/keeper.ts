import type { Clocks } from '../../house/clock.ts'
import { GONE_AFTER_MILLISECONDS, type KeeperNote } from '../../protocol/keeper-note.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { StoryNote } from '../../protocol/story.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { CardHouse } from './house.ts'

/** The earliest and the latest that something may have been, milliseconds. */
export type TimeBounds = readonly [from: number, until: number]

export const spanOf = (at: string, until = at): TimeBounds => [Date.parse(at), Date.parse(until)]

/** What a keeper in the house publishes: its house, its beat, its readings. */
export interface Keeper {
  /** Topic prefix of the tally; empty: there can be no keeper. */
  readonly tally: string
  readonly house: CardHouse | undefined
  readonly note: KeeperNote | undefined
  readonly readings: ReadonlyMap<string, Reading>
  readonly stories: ReadonlyMap<string, StoryNote>
  /** When its last live reading of each mark came, by this tablet's clock. */
  readonly toldAt: ReadonlyMap<string, number>
  /** This house had a keeper when this tablet last heard it. */
  readonly isRemembered: boolean
  /** When the last live beat came. */
  readonly beat: Clocks | undefined
}

export const noKeeper: Keeper = {
  tally: '',
  house: undefined,
  note: undefined,
  readings: new Map(),
  stories: new Map(),
  toldAt: new Map(),
  isRemembered: false,
  beat: undefined,
}

/** Something of it was heard on this page, be it only a kept word. */
export const isHeard = ({ note, house, readings }: Keeper): boolean =>
  note !== undefined || house !== undefined || readings.size > 0

/** A keeper works in this house: something of it was heard, now or on an earlier day. */
export const isUsed = (keeper: Keeper): boolean => keeper.isRemembered || isHeard(keeper)

/** A live beat came lately enough, by this tablet's own clock, and the keeper does not say of itself that it is gone. */
export function isBeating({ beat, note }: Keeper, { now, elapsed }: Clocks): boolean {
  if (!beat || note?.state !== 'live') return false
  return Math.max(Math.abs(now - beat.now), elapsed - beat.elapsed) < GONE_AFTER_MILLISECONDS
}

/** What the broker lets nobody read here of the readings may have changed unheard. */
export const isUnreadable = ({ tally }: Keeper, filters: readonly string[] = []): boolean =>
  filters.includes(tallyTopics(tally).filters.openings)

/** When it last said anything, by its own clock: the newest of its beat and its readings, kept copies too. */
export function saidAt({ note, readings }: Keeper): number | undefined {
  const times = [note?.beat, ...[...readings.values()].map(({ asOf }) => asOf)]
  const newest = Math.max(...times.map(time => (time === undefined ? Number.NEGATIVE_INFINITY : Date.parse(time))))
  return Number.isFinite(newest) ? newest : undefined
}

/**
 * Up to when it has told of a mark, by this tablet's clock; a copy that the broker kept tells nothing of this page's
 * time.
 * @param joinedAt - when this page began
 */
export function toldUntil({ readings, toldAt }: Keeper, mark: string, joinedAt: number): number {
  const asOf = readings.get(mark)?.asOf
  const before = asOf === undefined ? Number.NEGATIVE_INFINITY : Math.min(Date.parse(asOf), joinedAt)
  return toldAt.get(mark) ?? before
}
