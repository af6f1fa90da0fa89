import { describe, expect, it } from 'vitest'
import { Redelivery } from '../../src/keeper/session/redelivery.ts'
import type { Taken } from '../../src/keeper/session/taken.ts'
import type { Heard } from '../../src/protocol/feed.ts'

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
/** A session in which each of these was a commit of its own. */
function following(...all: Heard[]): Redelivery {
  const session = new Redelivery()
  for (const one of all) {
    session.stage(one)
    session.commit()
  }
  return session
}
const isRedelivery = (one: Heard, session: Redelivery): boolean => session.judge(one) === 'again'

describe('a redelivery', () => {
  it('has DUP and the packet id, topic and bytes of a committed message', () => {
    expect(isRedelivery(again(5), following(heard(5)))).toBe(true)
  })
  it('is never told by DUP alone', () => {
    expect(isRedelivery(again(5), new Redelivery())).toBe(false)
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
  it('is looked for in the last 100 commits, however many messages they hold', () => {
    const session = new Redelivery()
    for (let n = 0; n < 101 * 150; n++) {
      session.stage(heard(n + 1))
      if (n % 150 === 149) session.commit()
    }
    expect([1, 150, 151, 101 * 150].map(n => isRedelivery(again(n), session))).toEqual([false, false, true, true])
  })
  it('is looked for among the last 10,000 messages, however small their commits', () => {
    const session = following(...Array.from({ length: 10_001 }, (_, n) => heard(n + 1)))
    expect([1, 2, 10_001].map(n => isRedelivery(again(n), session))).toEqual([false, true, true])
  })
  it('is found in a commit of many messages, and in the one that is being made', () => {
    const session = new Redelivery()
    for (let n = 1; n <= 400; n++) session.stage(heard(n))
    expect(session.judge(again(1))).toBe('again')
    session.commit()
    expect(session.judge(again(1))).toBe('again')
    expect(session.judge(again(401))).toBe('first')
  })
  it('is not told from a commit that failed', () => {
    const session = following(heard(5))
    session.stage(heard(6))
    session.rollback()
    expect(session.judge(again(6))).toBe('first')
    expect(session.judge(again(5))).toBe('again')
  })
  it('whose packet id came for another message since is in doubt, after a new start too', () => {
    const [a, b] = [heard(5, 'opened'), heard(5, 'asleep')]
    const session = following(a, b)
    expect(session.judge(again(5, 'opened'))).toBe('maybe')
    const stored: Taken[] = []
    const kept = new Redelivery()
    for (const one of [a, b]) {
      kept.stage(one)
      stored.push(...kept.staged.taken)
      kept.commit()
    }
    expect(new Redelivery({ taken: () => stored, fact: () => undefined }).judge(again(5, 'opened'))).toBe('maybe')
  })
  it('is found after a new start from what was stored', () => {
    const stored: Taken[] = []
    const session = new Redelivery()
    const commit = (of: Redelivery, n: number): void => {
      for (let m = 0; m < 100; m++) of.stage(heard(n * 100 + m + 1))
      const { taken, keepFrom } = of.staged
      stored.push(...taken)
      while (stored[0]!.turn < keepFrom) stored.shift()
      of.commit()
    }
    for (let n = 0; n < 130; n++) commit(session, n)
    expect(stored).toHaveLength(10_000)
    const next = new Redelivery({ taken: () => stored, fact: () => undefined })
    expect([3_000, 3_001, 13_000].map(n => isRedelivery(again(n), next))).toEqual([false, true, true])
    commit(next, 130)
    expect([3_100, 3_101, 13_100].map(n => isRedelivery(again(n), next))).toEqual([false, true, true])
  })
  it('counts at least once where the broker gives packet ids out again at once', () => {
    const session = following(heard(5), heard(6), heard(5))
    expect(session.reuses).toBe(true)
    expect(isRedelivery(again(5), session)).toBe(false)
    for (let n = 100; n < 200; n++) {
      session.stage(heard(n))
      session.commit()
    }
    expect(session.reuses).toBe(false)
    expect(isRedelivery(again(199), session)).toBe(true)
  })
  it('a redelivery that was not committed does not count as a packet id given out again', () => {
    const session = following(heard(5, 'opened'), again(6))
    expect(session.reuses).toBe(false)
    expect(isRedelivery(again(6), session)).toBe(true)
  })
})

/** Another link of the session begins, in a commit of its own. */
function nextLink(session: Redelivery): Redelivery {
  session.stageLink()
  session.commit()
  return session
}

describe('a delivery that may be another message under a used packet id', () => {
  it('is one with DUP that comes on a later link than that after the commit: the first copy may have gone to a dead keeper', () => {
    const session = nextLink(following(heard(5)))
    expect(session.judge(again(5)), 'a broker that goes back ends the link').toBe('again')
    expect(nextLink(session).judge(again(5))).toBe('maybe')
    expect(session.judge(again(6))).toBe('first')
  })
  it('is one without DUP that comes like a commit on an earlier link: it may wait in an older store of the broker', () => {
    const session = following(heard(5), heard(6))
    expect(session.judge(heard(5)), 'on the same link').toBe('first')
    nextLink(session)
    expect(session.judge(heard(5))).toBe('maybe')
    expect(session.judge(heard(5, 'asleep'))).toBe('first')
    expect(session.judge(heard(7))).toBe('first')
  })
  it('is none where the redelivery came on each link between', () => {
    const session = following(heard(5))
    for (let n = 0; n < 4; n++) {
      nextLink(session)
      expect(session.judge(again(5))).toBe('again')
      session.stage(again(5))
      session.commit()
    }
  })
  it('is one after a copy of a retained message came under the packet id of a commit', () => {
    const session = nextLink(following(heard(5), heard(6)))
    session.seen(heard(5, '{}', { topic: 'ropewalk/tally/opening/W07', retain: true }))
    expect(session.judge(again(6))).toBe('maybe')
  })
  it('is one where two markers came under one packet id', () => {
    const session = new Redelivery()
    const marker = heard(1, '{}', { topic: 'ropewalk/tally/keeper/echo/m1' })
    session.seen(marker)
    session.seen(marker)
    session.stage(heard(1))
    session.commit()
    expect(session.judge(again(1))).toBe('maybe')
    for (let n = 100; n < 200; n++) {
      session.stage(heard(n))
      session.commit()
    }
    expect(session.judge(again(199))).toBe('again')
  })
  it('is none where copies and markers come under packet ids of their own, or again with DUP', () => {
    const session = following(heard(5))
    for (const one of [heard(6), heard(7), again(7), again(5, '{}')]) session.seen(one)
    expect(session.judge(again(5))).toBe('again')
  })
  it('stays one through a new start, and not through a new session', () => {
    const facts: Record<string, string> = {}
    const taken: Taken[] = []
    const session = new Redelivery()
    const keep = (): void => {
      taken.push(...session.staged.taken)
      Object.assign(facts, session.staged.facts)
      session.commit()
    }
    session.stage(heard(5))
    keep()
    for (let n = 0; n < 2; n++) {
      session.stageLink()
      keep()
    }
    const next = new Redelivery({ taken: () => taken, fact: name => facts[name] })
    expect(next.judge(again(5))).toBe('maybe')
    next.forget()
    Object.assign(facts, next.staged.facts)
    next.commit()
    next.stage(heard(5))
    taken.splice(0, 1, ...next.staged.taken)
    next.commit()
    expect(new Redelivery({ taken: () => taken, fact: name => facts[name] }).judge(again(5))).toBe('again')
  })
  it('is told of a link whose commit was refused as soon as it is made', () => {
    const session = following(heard(5))
    session.stageLink()
    session.rollback()
    expect(session.judge(again(5))).toBe('again')
    expect(nextLink(nextLink(session)).judge(again(5))).toBe('maybe')
  })
})
