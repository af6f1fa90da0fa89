import { applyAll, type Ledger, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { ROUND_TEXTS } from '../../src/ledger/round.ts'
import type { Entry, How } from '../../src/protocol/entry.ts'
import type { Policy } from '../../src/protocol/policy.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import type { What } from '../../src/protocol/whats.ts'

export const COIN: Policy = {
  reports: 'openings',
  power: 'cell',
  keepAliveSeconds: 4,
  bootSeconds: 4,
  bounceSeconds: 30,
  provenWithinDays: 180,
  takeAsClosedAfterMinutes: null,
  replaceBelow: 0.9,
  cell: 'CR2032',
}
export const DOOR: Policy = { ...COIN, reports: 'both', power: 'mains', keepAliveSeconds: 30, bootSeconds: 0 }

const DAY = '2026-11-25T'
const HOW: Record<string, How> = { L: 'live', R: 'retained', Q: 'queued', S: 'said' }

/** 18:00 or 18:00:06 on the day of the tests, in UTC. */
export const time = (clock: string): string => {
  const [hours = '0', minutes = '0', seconds = '0'] = clock.split(':')
  return new Date(Date.parse(`${DAY}${hours}:${minutes}:00Z`) + Number(seconds) * 1000).toISOString()
}

/**
 * One entry in short: `18:00:06 rest L 3600`: time, what, how (Live, Retained, Queued, Said), seconds of live link.
 * A mark may stand in front: `W02 18:00 opened L`; `08:00-12:00` is an interval; `#7` a boot count; `again` a word that may be a redelivery;
 * after `round` stands what the walk found.
 */
export function entry(short: string, id: string, mark = 'W01'): Entry {
  const words = short.trim().split(/\s+/)
  const named = /^[A-Z]/.test(words[0]!) ? words.shift()! : mark
  const [from, until] = words.shift()!.split('-')
  const [what, how = 'L', ...more] = words
  const boots = more.find(word => word.startsWith('#'))
  const found = ROUND_TEXTS.find(text => more.includes(text))
  const seconds = more.find(word => /^\d/.test(word))
  return {
    id,
    at: time(from!),
    ...(until ? { until: time(until) } : {}),
    mark: named,
    what: what as What,
    how: HOW[how]!,
    ...(boots ? { boots: Number(boots.slice(1)) } : {}),
    ...(more.includes('again') ? { maybeAgain: true as const } : {}),
    ...(found ? { text: found } : {}),
    ...(seconds ? { linkLiveSeconds: Number(seconds) } : {}),
  }
}

export const entries = (sequence: string): Entry[] =>
  sequence
    .split(',')
    .filter(short => short.trim())
    .map((short, index) => entry(short, `e${index}`))

export function ledgerOf(sequence: string, policy: Record<string, Policy> = { W01: COIN }): Ledger {
  return applyAll(startLedger(policy, time('00:00')), entries(sequence))
}

export function reading(sequence: string, now: string, policy: Policy = COIN): Reading {
  return read(ledgerOf(sequence, { W01: policy }), Date.parse(time(now)))[0]!
}

/** `opened 18:00:00 1/1 [untested]`: position, since, openings/sends, doubts. */
export function inShort({ position, since, openings, sends, doubts }: Reading): string {
  const at = since === undefined ? '' : ` ${since.slice(11, 19)}`
  return `${position}${at} ${openings}/${sends} [${doubts.join(' ')}]`
}
