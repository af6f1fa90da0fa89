import { PROGRAM_BEGAN } from '../../ledger/clock-set.ts'
import { messageOf } from '../../text/message-of.ts'
import { iso } from '../../text/time.ts'
import type { CheckedClock } from '../clock.ts'

/** The number of messages that one common broker keeps for a client unless it is told otherwise. */
const USUAL_QUEUE = 1_000

export interface CaughtUp {
  readonly present: boolean
  readonly queued: number
  /** Until when the link before was live, ISO 8601. */
  readonly since?: string
}

/** A broker whose queue is full drops words although their publishers were told that they came. */
export const mayHaveOverflowed = ({ present, queued }: CaughtUp): boolean => present && queued >= USUAL_QUEUE

/** What is to be said of a link that is up again: what waited, and what may be missing. */
export function caughtUpSentences(session: CaughtUp, now: number) {
  const { present, queued, since } = session
  const gap = since === undefined ? '' : ` since ${since}`
  return {
    waited: present && queued > 0 ? `${queued} words had waited at the broker${gap}` : undefined,
    overflow: mayHaveOverflowed(session)
      ? `${queued} words had waited at the broker${gap}: if that is all it keeps, later ones were dropped, which only a boot count can show; raise its limit (max_queued_messages)`
      : undefined,
    forgotten:
      !present && since !== undefined
        ? `the broker came back without the keeper's session: words between ${since} and ${iso(now)} are not here, and only a boot count can show them; let it keep its sessions on disk`
        : undefined,
  }
}

/** @param filter - topic filter of the keeper's own echoes */
export const silentSentence = (filter: string): string =>
  `nothing comes back of what is published on ${filter}: the broker must let this account write and read ${filter}`

export const OLDER_STORE =
  'the broker came back from an older store: words that it took since then may be lost; let it write what it keeps at once'

/** @param topic - of the keeper's own */
export const foreignSentence = (topic: string): string =>
  `somebody else published on ${topic}, where only the keeper may: it was set right; let the broker's access list give it to the keeper alone, and run no second keeper`

const KEEP_ID_SECRET =
  "let nobody read the tally's folder, which holds that id, and run no second keeper on a copy of it"

export const SEAL_MISSING = `the broker has kept the keeper's session, and not the last message in it: another client has had the session under this keeper's client id, the broker came back from an older store, or this store is a copy from before; words may have gone there: ${KEEP_ID_SECRET}`

export const UNKNOWN_SESSION = `the broker has a session under this keeper's client id that this keeper never made: another client uses that id, and words may have gone there; ${KEEP_ID_SECRET}`

export const RESTART = 'the register names another broker or tally: end the keeper and start it again for that'

export const recountSentence = (error: unknown): string => `the tally could not be counted again: ${messageOf(error)}`

export function clockSentence(stepMilliseconds: number, now: number): string {
  const seconds = Math.round(Math.abs(stepMilliseconds) / 1000)
  return `this machine's clock was set ${stepMilliseconds < 0 ? 'back' : 'forward'} by ${seconds} s, to ${iso(now)}: entries keep the order in which they came, times before and after do not compare`
}

/** @param wrong - what the machine's clock says, milliseconds since the epoch */
export function wrongClockSentence(wrong: number, { known, now }: Pick<CheckedClock, 'known' | 'now'>): string {
  const leave = wrong < PROGRAM_BEGAN ? '' : ', or leave it where it is right (it is believed after a day)'
  return `this machine's clock says ${iso(wrong)}, and it was ${iso(known)} already: set the clock${leave}; until then nobody knows when a word came, only that it was after ${iso(now())}`
}

export const clockSetSentence = (stepMilliseconds: number, now: number): string =>
  `this machine's clock ${stepMilliseconds > 0 ? 'was set forward, to' : 'was left for a day and is believed, at'} ${iso(now)}: what came before that has the time in between`
