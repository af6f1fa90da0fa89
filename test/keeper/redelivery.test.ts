import { describe, expect, it } from 'vitest'
import { isRedelivery, NO_TAKEN, type SessionTaken, takenOf, withTaken } from '../../src/keeper/redelivery.ts'
import type { Heard } from '../../src/ledger/types.ts'

const heard = (packetId: number, word = 'opened', rest: Partial<Heard> = {}): Heard => ({
  topic: 'ropewalk/w07',
  payload: new TextEncoder().encode(word),
  retain: false,
  dup: false,
  qos: 1,
  packetId,
  ...rest,
})
const again = (packetId: number, word?: string, rest?: Partial<Heard>) => heard(packetId, word, { dup: true, ...rest })
const following = (...all: Heard[]): SessionTaken =>
  all.reduce((session, one) => withTaken(session, one, takenOf(one, session)!), NO_TAKEN)

describe('a redelivery', () => {
  it('has DUP and the packet id, topic and bytes of a committed message', () => {
    expect(isRedelivery(again(5), following(heard(5)))).toBe(true)
  })
  it('is never told by DUP alone', () => {
    expect(isRedelivery(again(5), NO_TAKEN)).toBe(false)
    expect(isRedelivery(again(6), following(heard(5)))).toBe(false)
    expect(isRedelivery(again(5, 'asleep'), following(heard(5)))).toBe(false)
    expect(isRedelivery(again(5, 'opened', { topic: 'ropewalk/w08' }), following(heard(5)))).toBe(false)
  })
  it('is never told without DUP', () => {
    expect(isRedelivery(heard(5), following(heard(5)))).toBe(false)
  })
  it('is never told at QoS 0, which is not sent again', () => {
    expect(isRedelivery(again(5, 'opened', { qos: 0 }), following(heard(5)))).toBe(false)
  })
  it('tells topic and bytes apart where they meet', () => {
    const one = heard(5, 'opened', { topic: 'a' })
    expect(isRedelivery(again(5, 'pened', { topic: 'ao' }), following(one))).toBe(false)
  })
  it('is looked for among the last 100', () => {
    const hundred = Array.from({ length: 100 }, (_, n) => heard(n + 1))
    expect(isRedelivery(again(1), following(...hundred))).toBe(true)
    expect(isRedelivery(again(1), following(...hundred, heard(101)))).toBe(false)
    expect(following(...hundred, heard(101)).list).toHaveLength(100)
  })
  it('counts at least once where the broker gives packet ids out again at once', () => {
    const session = following(heard(5), heard(6), heard(5))
    expect(session.reuses).toBe(true)
    expect(isRedelivery(again(5), session)).toBe(false)
  })
  it('a redelivery that was not committed does not count as a packet id given out again', () => {
    const session = following(heard(5, 'opened'), again(6))
    expect(session.reuses).toBe(false)
    expect(isRedelivery(again(6), session)).toBe(true)
  })
})
