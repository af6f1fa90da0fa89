import { describe, expect, test } from 'vitest'
import type { BenchSeen, ProveRules, SeenMessage, SeenOpening } from '../../src/cli/bench/prove-seen.ts'
import { verdictOf } from '../../src/cli/bench/prove-verdict.ts'

const RULES: ProveRules = {
  mark: 'D01',
  topic: 'ropewalk/d01',
  client: 'ropewalkd01',
  reports: 'both',
  opened: 'ajar',
  closed: 'shut',
  rest: 'lost',
  keepAliveSeconds: 30,
  qos: 1,
  power: 'bench',
  firstWordSeconds: 10,
  firstWordRestsOn: 'mains',
  revision: '9f8e7d6c',
  speaksRevision: false,
  others: new Map(),
}
const word = (
  seconds: number,
  text: string,
  what: SeenMessage['what'],
  more: Partial<SeenMessage> = {},
): SeenMessage => ({
  seconds,
  topic: RULES.topic,
  text,
  qos: 1,
  retained: true,
  ...(what ? { what } : {}),
  ...more,
})
const opened = (...messages: SeenMessage[]): SeenOpening => ({ messages })
const found = (seen: BenchSeen, rules: Partial<ProveRules> = {}) => {
  const verdict = verdictOf(seen, { ...RULES, ...rules })
  const check = (name: string) => verdict.checks.find(one => one.name === name)
  return { ...verdict, check }
}

describe('a contact that reports both edges', () => {
  test('is not proved by its opened word alone', () => {
    const { proved, check, causes } = found({ openings: [opened(word(0.2, 'ajar', 'opened'))] })
    expect(proved).toBe(false)
    expect(check('closing')).toMatchObject({ result: 'failed' })
    expect(causes).toContainEqual(expect.stringMatching(/reports openings only/))
  })
  test('is proved when it says both', () => {
    const seen = { openings: [opened(word(0.2, 'ajar', 'opened'), word(1, 'shut', 'closed'))] }
    expect(found(seen)).toMatchObject({ proved: true })
    expect(found(seen).check('closing')).toMatchObject({ result: 'passed', says: '"shut"' })
  })
  test('keeps its edges at the broker', () => {
    const edge = word(1, 'shut', 'closed', { retained: false })
    const { proved, check } = found({ openings: [opened(word(0.2, 'ajar', 'opened'), edge)] })
    expect(proved).toBe(false)
    expect(check('retained')).toMatchObject({ result: 'failed' })
  })
})

describe('a contact whose payload is JSON', () => {
  const rules: Partial<ProveRules> = {
    reports: 'openings',
    rest: 'asleep',
    speaksJson: true,
    speaksBoots: true,
    opened: 'opened',
  }
  const say = (boots?: number) =>
    word(1, '{"say":"opened"}', 'opened', { retained: false, ...(boots === undefined ? {} : { boots }) })
  test.each([
    [[17, 18], 'passed'],
    [[17, 17], 'failed'],
    [[17, undefined], 'failed'],
    [[17], 'not seen'],
  ])('counts boots %j: %s', (counts, result) => {
    const verdict = found({ openings: counts.map(count => opened(say(count), word(47, 'asleep', 'rest'))) }, rules)
    expect(verdict.check('boots')).toMatchObject({ result })
    expect(verdict.proved).toBe(result !== 'failed')
  })
  test('a plain word where the register says JSON fails', () => {
    const plain = word(1, 'opened', 'opened', { retained: false })
    expect(found({ openings: [opened(plain)] }, rules).check('payload')).toMatchObject({ result: 'failed' })
  })
})

test('a word that the register does not know came on its topic, and at its QoS', () => {
  const { check } = found({ openings: [opened(word(1, 'open', 'odd'))] })
  expect(check('payload')).toMatchObject({ result: 'failed', says: expect.stringMatching(/"open" is no word/) })
  expect(check('topic')).toMatchObject({ result: 'passed' })
  expect(check('QoS')).toMatchObject({ result: 'passed' })
})

test('a rest word from before the opening is no rest word of it', () => {
  const seen = {
    openings: [opened(word(0.1, 'asleep', 'rest'), word(1, 'opened', 'opened', { retained: false }))],
    kept: 'asleep',
  }
  const { check } = found(seen, { reports: 'openings', rest: 'asleep', opened: 'opened' })
  expect(check('retained')).toMatchObject({ result: 'not seen' })
})
