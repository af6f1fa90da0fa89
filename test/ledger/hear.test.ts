import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Ear, hear } from '../../src/ledger/hear.ts'
import type { Heard } from '../../src/protocol/feed.ts'

const EARS = new Map<string, Ear>([
  ['ropewalk/w01', { mark: 'W01', words: { opened: 'opened', rest: 'asleep' } }],
  ['ropewalk/d01', { mark: 'D01', words: { opened: 'ajar', closed: 'shut', gone: 'lost' } }],
  [
    'ropewalk/w02',
    {
      mark: 'W02',
      words: { opened: 'opened', rest: 'asleep' },
      json: { word: '/say', boots: '/n', millivolts: '/cell/mV', revision: '/rev', joinMilliseconds: '/ms' },
    },
  ],
])
const NOW = { id: 'a1', at: '2026-11-25T18:00:00.000Z' }
const heard = (topic: string, payload: string | Uint8Array, flags: Partial<Heard> = {}): Heard => ({
  topic,
  payload: typeof payload === 'string' ? new TextEncoder().encode(payload) : payload,
  retain: false,
  dup: false,
  qos: 1,
  ...flags,
})

describe('hear', () => {
  test('a word of the register becomes an entry', () => {
    expect(hear(EARS, heard('ropewalk/w01', 'opened'), NOW)).toEqual({
      ...NOW,
      mark: 'W01',
      what: 'opened',
      how: 'live',
    })
    expect(hear(EARS, heard('ropewalk/d01', 'lost', { retain: true }), NOW)).toMatchObject({
      what: 'gone',
      how: 'retained',
    })
  })
  test('a rest word carries how long the link had been live', () => {
    const hearing = { ...NOW, linkLiveSeconds: 99 }
    expect(hear(EARS, heard('ropewalk/w01', 'asleep'), hearing)?.linkLiveSeconds).toBe(99)
    expect(hear(EARS, heard('ropewalk/w01', 'asleep', { retain: true }), hearing)?.linkLiveSeconds).toBeUndefined()
  })
  test('a message that waited has an interval; a retained copy is never queued', () => {
    const hearing = { ...NOW, queued: true, until: '2026-11-25T19:00:00.000Z' }
    expect(hear(EARS, heard('ropewalk/w01', 'opened'), hearing)).toMatchObject({ how: 'queued', until: hearing.until })
    expect(hear(EARS, heard('ropewalk/w01', 'asleep', { retain: true }), hearing)).toEqual({
      ...NOW,
      mark: 'W01',
      what: 'rest',
      how: 'retained',
    })
  })
  test('another topic is nobody’s', () => {
    expect(hear(EARS, heard('ropewalk/w99', 'opened'), NOW)).toBeUndefined()
  })
  test('an unknown word is odd, with its text, capped', () => {
    expect(hear(EARS, heard('ropewalk/w01', '<img src=x>'), NOW)).toMatchObject({ what: 'odd', text: '<img src=x>' })
    expect(hear(EARS, heard('ropewalk/w01', 'x'.repeat(5000)), NOW)?.text).toHaveLength(200)
    expect(hear(EARS, heard('ropewalk/w01', 'Opened'), NOW)?.what).toBe('odd')
    expect(hear(EARS, heard('ropewalk/w01', new Uint8Array([0xff, 0xfe])), NOW)?.what).toBe('odd')
    expect(hear(EARS, heard('ropewalk/w01', ''), NOW)).toMatchObject({ what: 'odd', text: '' })
  })
  test('JSON by pointer, with boots, millivolts and revision', () => {
    const payload = JSON.stringify({ say: 'opened', n: 7, cell: { mV: 3012 }, rev: '0123abcd' })
    expect(hear(EARS, heard('ropewalk/w02', payload), NOW)).toEqual({
      ...NOW,
      mark: 'W02',
      what: 'opened',
      how: 'live',
      boots: 7,
      millivolts: 3012,
      revision: '0123abcd',
    })
  })
  test.each([
    [174, 174],
    [0.5, 0.5],
    [0, undefined],
    [-1, undefined],
    ['174', undefined],
    [600_000, undefined],
  ])('a join of %j ms is taken as %j', (said, taken) => {
    const payload = JSON.stringify({ say: 'opened', ms: said })
    expect(hear(EARS, heard('ropewalk/w02', payload), NOW)).toMatchObject({ what: 'opened' })
    expect(hear(EARS, heard('ropewalk/w02', payload), NOW)?.joinMilliseconds).toBe(taken)
  })
  test('a retained copy tells no join again', () => {
    const payload = JSON.stringify({ say: 'opened', ms: 174 })
    expect(hear(EARS, heard('ropewalk/w02', payload, { retain: true }), NOW)?.joinMilliseconds).toBeUndefined()
  })
  test('a will may be the plain word although openings are JSON', () => {
    expect(hear(EARS, heard('ropewalk/w02', 'asleep'), NOW)?.what).toBe('rest')
  })
  test('figures that cannot be are left out, the word still counts', () => {
    const payload = JSON.stringify({ say: 'opened', n: -1, cell: { mV: 'many' }, rev: 7 })
    expect(hear(EARS, heard('ropewalk/w02', payload), NOW)).toEqual({
      ...NOW,
      mark: 'W02',
      what: 'opened',
      how: 'live',
    })
  })
  test('no payload makes it throw', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...EARS.keys()),
        fc.oneof(
          fc.uint8Array(),
          fc.json().map(text => new TextEncoder().encode(text)),
        ),
        (topic, payload) => {
          const entry = hear(EARS, heard(topic, payload), NOW)
          expect(entry?.mark).toBe(EARS.get(topic)!.mark)
        },
      ),
    )
  })
})
