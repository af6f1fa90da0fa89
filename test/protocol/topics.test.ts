import { expect, test } from 'vitest'
import { plainWord } from '../../src/ledger/plain-word.ts'
import { POSITIONS } from '../../src/protocol/reading.ts'
import { tallyPlace, tallyTopics } from '../../src/protocol/topics.ts'

const topics = tallyTopics('ropewalk/tally')

test('the tally has its topics under its own prefix', () => {
  expect(topics.register).toBe('ropewalk/tally/register')
  expect(topics.opening('W02')).toBe('ropewalk/tally/opening/W02')
  expect(topics.plain('W02')).toBe('ropewalk/tally/plain/W02')
  expect(topics.story('W02')).toBe('ropewalk/tally/story/W02')
  expect(topics.keeper).toBe('ropewalk/tally/keeper')
  expect(topics.echo('a1')).toBe('ropewalk/tally/keeper/echo/a1')
  expect(topics.say('W02')).toBe('ropewalk/tally/say/W02')
  expect(topics.heard('a1')).toBe('ropewalk/tally/heard/a1')
})

test('each topic is known again by its place', () => {
  expect(tallyPlace('ropewalk/tally', topics.register)).toEqual({ kind: 'register' })
  expect(tallyPlace('ropewalk/tally', topics.keeper)).toEqual({ kind: 'keeper' })
  expect(tallyPlace('ropewalk/tally', topics.opening('W02'))).toEqual({ kind: 'opening', mark: 'W02' })
  expect(tallyPlace('ropewalk/tally', topics.plain('W02'))).toEqual({ kind: 'plain', mark: 'W02' })
  expect(tallyPlace('ropewalk/tally', topics.say('W02'))).toEqual({ kind: 'say', mark: 'W02' })
  expect(tallyPlace('ropewalk/tally', topics.echo('a1'))).toEqual({ kind: 'echo', id: 'a1' })
  expect(tallyPlace('ropewalk/tally', topics.heard('a1'))).toEqual({ kind: 'heard', id: 'a1' })
})

test.each([
  'ropewalk/w02',
  'ropewalk/tally',
  'ropewalk/tally/',
  'ropewalk/tally/opening',
  'ropewalk/tally/opening/',
  'ropewalk/tally/opening/W02/more',
  'ropewalk/tally/opening/-W02',
  'ropewalk/tally/opening/W 02',
  'ropewalk/tally/say/12345678901234567',
  'ropewalk/tally/heard/a_1',
  'ropewalk/tally/echo/a1',
  'ropewalk/tallyho/register',
  'ropewalk/tally/__proto__/W02',
])('%s is none of its topics', topic => {
  expect(tallyPlace('ropewalk/tally', topic)).toBeUndefined()
})

test('a hub is told closed only when that is known', () => {
  const word = (position: (typeof POSITIONS)[number]) => plainWord({ position, doubts: [] })
  expect(Object.fromEntries(POSITIONS.map(position => [position, word(position)]))).toEqual({
    open: 'may-be-open',
    opened: 'may-be-open',
    closed: 'closed',
    'taken-closed': 'not-certain',
    'no-word': 'not-certain',
  })
})

test.each(['untested', 'faint', 'twin', 'spent', 'silent'] as const)('closed but %s is not certain to a hub', doubt => {
  expect(plainWord({ position: 'closed', doubts: [doubt] })).toBe('not-certain')
  expect(plainWord({ position: 'opened', doubts: [doubt] })).toBe('may-be-open')
})

test('closed is not certain to a hub after a time in which nobody listened', () => {
  expect(plainWord({ position: 'closed', doubts: [], unheard: '2026-11-25T09:30:00.000Z' })).toBe('not-certain')
})

test.each(['low', 'reflash'] as const)('closed and %s is still closed to a hub', doubt => {
  expect(plainWord({ position: 'closed', doubts: [doubt] })).toBe('closed')
})
