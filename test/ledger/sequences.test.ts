import { describe, expect, test } from 'vitest'
import type { Policy } from '../../src/ledger/types.ts'
import { COIN, DOOR, inShort, reading } from './notation.ts'

type Row = [name: string, sequence: string, now: string, expected: string, policy?: Policy]

const REPEATS: Policy = { ...COIN, repeatSeconds: 600, keepAliveSeconds: 10 }
const TAKEN: Policy = { ...COIN, takeAsClosedAfterMinutes: 60 }

const rows: Row[] = [
  ['nothing', '', '19:00', 'no-word 0/0 [untested]'],
  ['a retained rest alone', '08:00 rest R', '19:00', 'no-word 0/0 [untested]'],
  ['an opening', '18:00 opened L, 18:00:06 rest L', '18:00:10', 'opened 18:00:00 1/1 []'],
  ['an opening before its rest word', '18:00 opened L', '18:00:16', 'open 18:00:00 1/1 []'],
  ['an opening whose rest word never came, in time', '18:00 opened L', '18:00:17', 'opened 18:00:00 1/1 []'],
  ['an opening whose rest word never came, an hour on', '18:00 opened L', '19:00', 'opened 18:00:00 1/1 []'],
  ['a rest word alone on a live link', '18:00:06 rest L 3600', '18:01', 'opened 18:00:00 1/1 [untested faint]'],
  ['a rest word alone on a young link', '18:00:06 rest L 15', '18:01', 'opened 18:00:00 1/1 [untested]'],
  [
    'a rest word alone on a link just old enough',
    '18:00:06 rest L 16',
    '18:01',
    'opened 18:00:00 1/1 [untested faint]',
  ],
  ['a rest word alone, link unknown', '18:00:06 rest L', '18:01', 'opened 18:00:00 1/1 [untested]'],
  [
    'a second try that got through',
    '18:00:06 rest L 3600, 18:00:10 opened L, 18:00:16 rest L 3610',
    '18:01',
    'opened 18:00:00 1/2 []',
  ],
  [
    'a takeover',
    '18:00 opened L, 18:00:02 rest L, 18:00:03 opened L, 18:00:09 rest L',
    '18:01',
    'opened 18:00:00 1/1 []',
  ],
  ['a takeover does not end open', '18:00 opened L, 18:00:02 rest L', '18:00:10', 'open 18:00:00 1/1 []'],
  ['bounces', '18:00:00 opened L, 18:00:20 opened L, 18:00:40 opened L', '18:02', 'opened 18:00:00 1/3 []'],
  ['words closer than the boot time', '18:00:00 opened L, 18:00:03.9 opened L', '18:02', 'opened 18:00:00 1/1 []'],
  ['words at the boot time', '18:00:00 opened L, 18:00:04 opened L', '18:02', 'opened 18:00:00 1/2 []'],
  ['openings at the bounce time', '18:00:00 opened L, 18:00:30 opened L', '18:02', 'opened 18:00:30 2/2 []'],
  ['seen shut before it was opened', '18:00 opened L, 17:50 seen-closed S', '18:05', 'opened 18:00:00 1/1 []'],
  ['seen shut after it was opened', '18:00 opened L, 18:03 seen-closed S', '18:05', 'closed 18:03:00 1/1 []'],
  ['the clock steps back an hour', '18:00 opened L, 17:05 seen-closed L', '17:06', 'closed 17:05:00 1/1 []'],
  ['a clock that stepped back ends open', '18:00 opened L', '17:00', 'opened 18:00:00 1/1 []'],
  [
    'the keeper was down',
    '08:00-12:00 opened Q, 08:00-12:00 rest Q, 08:00-12:00 opened Q, 08:00-12:00 rest Q',
    '12:01',
    'opened 08:00:00 2/2 []',
  ],
  [
    'seen shut while words were waiting at the broker',
    '08:00-12:00 opened Q, 08:00-12:00 rest Q, 10:00 seen-closed S',
    '12:01',
    'opened 08:00:00 1/1 []',
  ],
  [
    'both edges: a restatement after gone',
    '08:00 closed R, 09:00 opened L, 09:10 gone L, 09:20 opened L',
    '10:00',
    'open 09:00:00 1/0 []',
    DOOR,
  ],
  ['both edges: gone alone', '08:00 gone R', '10:00', 'no-word 0/0 [untested silent]', DOOR],
  ['both edges: closed', '08:00 opened L, 09:00 closed L', '10:00', 'closed 09:00:00 1/0 []', DOOR],
  ['both edges: closed, then gone', '09:00 closed L, 09:30 gone L', '10:00', 'closed 09:00:00 0/0 [silent]', DOOR],
  [
    'both edges: bounce merges counts, never positions',
    '09:00 opened L, 09:00:10 closed L, 09:00:12 opened L',
    '10:00',
    'open 09:00:12 1/0 []',
    DOOR,
  ],
  ['both edges: a retained opened sets the position only', '09:00 opened R', '10:00', 'open 0/0 [untested]', DOOR],
  [
    'both edges: another edge after gone is an edge',
    '09:00 closed L, 09:10 gone L, 09:20 opened L',
    '10:00',
    'open 09:20:00 1/0 []',
    DOOR,
  ],
  [
    'both edges: a kept copy of the edge a person overruled',
    '09:00 opened L, 09:05 seen-closed L, 09:06 opened R',
    '10:00',
    'closed 09:05:00 1/0 []',
    DOOR,
  ],
  [
    'repeats',
    '10:00:00 opened L, 10:00:15 rest L, 10:10:02 opened L, 10:10:17 rest L',
    '10:15',
    'open 10:00:00 1/2 []',
    REPEATS,
  ],
  [
    'repeats that stop',
    '10:00:00 opened L, 10:00:15 rest L, 10:10:02 opened L',
    '10:22',
    'opened 10:00:00 1/2 []',
    REPEATS,
  ],
  ['not a repeat', '10:00:00 opened L, 10:11:00 opened L', '10:11:01', 'open 10:11:00 2/2 []', REPEATS],
  ['boot counts decide: one boot', '18:00 opened L #7, 18:05 opened L #7', '18:06', 'opened 18:00:00 1/1 []'],
  ['boot counts decide: two boots', '18:00 opened L #7, 18:00:02 opened L #8', '18:06', 'opened 18:00:00 1/2 []'],
  ['boot counts show sends nobody heard', '18:00 opened L #7, 18:30 opened L #10', '18:36', 'opened 18:30:00 2/4 []'],
  [
    'a try heard by its rest word is in the boot count once',
    '18:00 opened L #7, 18:00:06 rest L 99, 18:30:06 rest L 99, 18:40 opened L #9',
    '18:46',
    'opened 18:40:00 3/3 []',
  ],
  ['a retained rest after a gap ends open', '18:00 opened L, 18:00:07 rest R', '18:00:08', 'opened 18:00:00 1/1 []'],
  ['a stale retained rest does not', '18:00 opened L, 18:00:03 rest R', '18:00:08', 'open 18:00:00 1/1 []'],
  ['taken as closed when asked for', '18:00 opened L, 18:00:06 rest L', '19:00', 'taken-closed 19:00:00 1/1 []', TAKEN],
  ['not yet taken as closed', '18:00 opened L, 18:00:06 rest L', '18:59:59', 'opened 18:00:00 1/1 []', TAKEN],
  ['an odd word is no opening', '18:00 odd L', '18:01', 'no-word 0/0 [untested]'],
  ['a failed test', '18:00 opened L, 19:00 failed S', '19:01', 'opened 18:00:00 1/1 [spent]'],
  ['a new cell', '18:00 opened L, 19:00 failed S, 19:10 cell-fitted S', '19:11', 'opened 18:00:00 1/0 [untested]'],
  ['a proof', '19:00 proved S', '19:11', 'no-word 0/0 []'],
  [
    'a rest word after a person looked',
    '18:00 opened L, 18:00:03 seen-closed L, 18:00:06 rest L 99',
    '18:01',
    'closed 18:00:03 1/1 []',
  ],
]

describe('sequences', () => {
  test.each(rows)('%s', (_name, sequence, now, expected, policy) => {
    expect(inShort(reading(sequence, now, policy))).toBe(expected)
  })
})
