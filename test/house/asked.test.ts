import { describe, expect, test } from 'vitest'
import {
  type Answer,
  type Asked,
  answerIn,
  NO_ANSWER,
  sayMessage,
  takeAnswer,
  waitedFor,
} from '../../src/house/asked.ts'
import { parseSay, type Say } from '../../src/protocol/say.ts'
import { utf8Bytes } from '../../src/text/utf8.ts'

const say = (id: string): Say => ({ v: 1, id, what: 'seen-closed' })
const asked = (...ids: string[]): Asked => ({ asking: ids.map(id => ({ say: say(id) })), answers: new Map() })
const OK: Answer = { ok: true }

/** Takes answers one after the other; answers what was late, and what is waited for at the end. */
function play(groups: readonly Asked[], ...answers: readonly (readonly [id: string, answer: Answer])[]) {
  let waiting = groups
  const late: string[] = []
  const whole: string[][] = []
  for (const [id, answer] of answers) {
    const taken = takeAnswer(waiting, id, answer)
    if (!taken) late.push(id)
    else {
      waiting = taken.waiting
      if (taken.isWhole) whole.push([...taken.group.answers.keys()])
    }
  }
  return { late, whole, waits: waitedFor(waiting) }
}

describe('says on their way', () => {
  test('are waited for until each of them is answered', () => {
    expect(play([asked('a', 'b')])).toEqual({ late: [], whole: [], waits: ['a', 'b'] })
    expect(play([asked('a', 'b')], ['a', OK])).toEqual({ late: [], whole: [], waits: ['b'] })
    expect(play([asked('a', 'b')], ['b', OK], ['a', OK])).toEqual({ late: [], whole: [['b', 'a']], waits: [] })
  })

  test('the first answer to a say counts, and a later one is late', () => {
    const first = takeAnswer([asked('a', 'b')], 'a', { ok: false, problem: 'no such opening' })!
    expect(first.group.answers.get('a')).toEqual({ ok: false, problem: 'no such opening' })
    expect(takeAnswer(first.waiting, 'a', OK)).toBeUndefined()
  })

  test('what had no answer in time is waited for no more: its answer is late', () => {
    expect(play([asked('a')], ['a', NO_ANSWER], ['a', OK])).toEqual({ late: ['a'], whole: [['a']], waits: [] })
  })

  test('groups wait each for their own, in their order', () => {
    expect(play([asked('a', 'b'), asked('c'), asked('d')], ['c', OK], ['b', OK])).toEqual({
      late: [],
      whole: [['c']],
      waits: ['a', 'd'],
    })
  })

  test('an answer to what nobody here asked is nobody’s', () => {
    expect(takeAnswer([asked('a')], 'z', OK)).toBeUndefined()
  })
})

test('what is published for a say is a say of that opening', () => {
  const { topic, payload } = sayMessage('ropewalk/tally', 'W07', say('a1'))
  expect(topic).toBe('ropewalk/tally/say/W07')
  expect(parseSay(payload)).toEqual({ say: say('a1') })
})

describe('an answer', () => {
  const message = (topic: string, payload: string, retain = false) =>
    answerIn('ropewalk/tally', { topic, payload: utf8Bytes(payload), retain, dup: false, qos: 1 })
  const yes = JSON.stringify({ v: 1, ok: true })
  test('is read from heard/<id> of this tally', () => {
    expect(message('ropewalk/tally/heard/a1', yes)).toMatchObject({ id: 'a1', answer: { ok: true } })
    const no = JSON.stringify({ v: 1, ok: false, problem: 'the register has no opening W99' })
    expect(message('ropewalk/tally/heard/a1', no)?.answer.problem).toBe('the register has no opening W99')
  })
  test.each([
    ['a copy that the broker kept', 'ropewalk/tally/heard/a1', yes, true],
    ['another tally’s', 'elsewhere/tally/heard/a1', yes, false],
    ['a reading', 'ropewalk/tally/opening/W07', yes, false],
    ['what is no JSON', 'ropewalk/tally/heard/a1', 'yes', false],
    ['what says neither yes nor no', 'ropewalk/tally/heard/a1', '{"v":1}', false],
    ['a flood', 'ropewalk/tally/heard/a1', `${yes}${' '.repeat(1_000_000)}`, false],
  ])('is not %s', (_name, topic, payload, retain) => expect(message(topic, payload, retain)).toBeUndefined())
})
