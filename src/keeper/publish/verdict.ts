import { GONE_AFTER_MILLISECONDS } from '../../protocol/keeper-note.ts'
import { tame } from '../../text/problems.ts'
import type { LogCode } from '../log-codes.ts'

/** Whether a keeper is at work. Nothing in it names an opening, a topic or a path: whoever may reach the page may read it. */
export interface Vitals {
  /** The link is up and readings may go out. */
  readonly isSettled: boolean
  /** Entries are kept; false while the disk refuses. */
  readonly isKeeping: boolean
  /** Something stands on the keeper's state that a person should see to. */
  readonly hasProblem: boolean
  /** When the broker last took the keeper's state, milliseconds since the epoch, and how long ago that is. */
  readonly beat?: { readonly at: number; readonly ageMilliseconds: number }
}

/** As `Vitals`, with the figures for a monitor. */
export interface Health extends Vitals {
  readonly entries: number
  /** Messages that came and are not on the disk yet. */
  readonly waiting: number
  /** Messages and sayings that were refused in the last 24 hours. */
  readonly refused: number
  /** Age of the newest backup, infinite before the first; absent where none are asked for. */
  readonly backupAgeMilliseconds?: number
  /** Absent where the folder cannot be asked. */
  readonly diskFreeBytes?: number
}

/** Why a keeper is not at work, or goes on by an older register. */
const REASONS = {
  account: 'no account of it for the broker was found, or none that can be read',
  clash: 'another house has a tally, topic or client id that its register names: the log says which',
  ended: 'it cannot begin or was ended, and is tried again: the log says why',
  'link-down': 'the broker is not reached',
  'link-refused': 'the broker does not let it in: the log says why',
  register: 'its register has errors or cannot be read',
  silent: 'the broker does not let its account read and write the tally',
  begins: 'no broker has answered yet, or another keeper has the house',
  store: 'the store takes no entries',
  unsettled: 'the broker is not reached, or does not let this account read and write',
  beat: 'the broker has taken no beat',
} as const

export type Reason = keyof typeof REASONS

/** A sentence for whoever asks, whether the keeper does its work, and why not or not by its newest register. */
export interface Verdict {
  readonly isWell: boolean
  readonly text: string
  readonly reason?: Reason
}

const isReason = (code: LogCode | undefined): code is LogCode & Reason => code !== undefined && code in REASONS

/**
 * Whether a keeper does its work, in a sentence that names no opening: what `/healthz` says.
 * @param vitals - undefined before the keeper is at work
 * @param waits - what holds it up until then; of a keeper at work, what is wrong with the edit of its register
 */
export function verdictOf(vitals: Vitals | undefined, waits?: LogCode): Verdict {
  const ill = (reason: Reason, more = ''): Verdict => ({
    isWell: false,
    text: `not at work: ${REASONS[reason]}${more}`,
    reason,
  })
  if (!vitals) return ill(isReason(waits) ? waits : 'begins')
  const { isSettled, isKeeping, hasProblem, beat } = vitals
  if (!isKeeping) return ill('store')
  if (!isSettled || !beat) return ill('unsettled')
  const seconds = Math.floor(beat.ageMilliseconds / 1000)
  if (beat.ageMilliseconds > GONE_AFTER_MILLISECONDS) return ill('beat', ` for ${seconds} s`)
  if (isReason(waits)) return { isWell: true, text: `at work by its older register: ${REASONS[waits]}`, reason: waits }
  return {
    isWell: true,
    text: hasProblem
      ? 'at work, and something wants a person: the wall and the log say what'
      : `at work: the last beat was ${seconds} s ago`,
  }
}

/** Health of many houses by their names; undefined: not at work. */
export type HousesHealth = ReadonlyMap<string, Health | undefined>

/**
 * As `verdictOf`, a line a house: well where every house is. Names of houses are those of their registers' files.
 * @param waits - by name, as `verdictOf` takes it
 */
export function verdictOfHouses(houses: HousesHealth, waits: ReadonlyMap<string, LogCode> = new Map()): Verdict {
  const verdicts = [...houses].map(([name, health]) => ({ name, ...verdictOf(health, waits.get(name)) }))
  if (verdicts.length === 0) return { isWell: false, text: 'not at work: there is no house' }
  return {
    isWell: verdicts.every(({ isWell }) => isWell),
    text: verdicts.map(({ name, text }) => `${tame(name)}: ${text}`).join('\n'),
  }
}
