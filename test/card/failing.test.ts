/** Every act of a wall with broker, keeper or link failing before it, while its answer is awaited, and after it. */
import { describe, expect, test } from 'vitest'
import type { Deed } from '../../src/card/state/deeds.ts'
import { NO_ANSWER } from '../../src/house/asked.ts'
import { iso } from '../../src/text/time.ts'
import { Played } from './played.ts'

const TALLY = 'ropewalk/tally'
const keeperNote = (card: Played, state = 'live') =>
  JSON.stringify({ v: 1, state, beat: iso(card.now), since: '2026-11-20T07:00:00.000Z' })
const reading = (card: Played, mark: string, position: string) =>
  JSON.stringify({
    ...{ v: 1, mark, name: 'Dye room', position, since: iso(card.now - 3_600_000), doubts: [] },
    ...{ openings: 3, sends: 3, asOf: iso(card.now) },
  })

/** A wall that may say, in a house with a keeper at work. */
function wallOf(): Played {
  const card = new Played()
  card.begin()
  const attributes = { broker: '', tally: '', view: 'sheet', sort: 'urgency', maySay: true, by: '' } as const
  card.play({ kind: 'attributes', attributes })
  for (const mark of ['W01', 'W02']) card.hear([`${TALLY}/opening/${mark}`, reading(card, mark, 'opened'), true])
  card.hear([`${TALLY}/opening/D01`, reading(card, 'D01', 'closed'), true])
  card.hear([`${TALLY}/keeper`, keeperNote(card)])
  return card
}

type Step = (card: Played) => void
const ids = (card: Played) => card.of('publish').map(({ id }) => id)
const answer = (card: Played, id: string, ok = true) =>
  card.hear([`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok })])
/** The keeper answers all that was published and not answered yet. */
const answerAll: Step = card => {
  for (const id of ids(card)) answer(card, id)
}
const look: Step = card => card.play({ kind: 'say', what: 'seen-closed', marks: ['W01', 'W02'] })
const heldOf = ({ state: { deeds } }: Played): readonly Deed[] => [
  ...deeds.earlier,
  ...(deeds.last ? [deeds.last] : []),
]

const ACTS: Readonly<Record<string, Step>> = {
  'a look': look,
  'a new cell': card => card.play({ kind: 'say', what: 'cell-fitted', marks: ['W01'] }),
  'no word came': card => card.play({ kind: 'say', what: 'failed', marks: ['W01'] }),
  'an undo': card => {
    look(card)
    answerAll(card)
    card.play({ kind: 'undo', deed: card.state.deeds.last! })
  },
}

/** What fails, and how it is well again. */
const FAILURES: Readonly<Record<string, { readonly fails: Step; readonly heals: Step }>> = {
  'the link': { fails: card => card.down(), heals: card => card.live() },
  'the keeper': {
    fails: card => card.hear([`${TALLY}/keeper`, keeperNote(card, 'gone')]),
    heals: card => card.hear([`${TALLY}/keeper`, keeperNote(card)]),
  },
  'the keeper, without a word': { fails: card => card.pass(120_000), heals: () => {} },
  'the broker, which takes nothing': {
    fails: card =>
      card.play({ kind: 'unanswered', ids: ids(card), answer: { ...NO_ANSWER, notTaken: 'a quota is used up' } }),
    heals: () => {},
  },
}

/** Nothing is told as noted that was not answered, nothing is sent for ever, nothing is lost without a word. */
function expectHonest(card: Played, answered: ReadonlySet<string>): void {
  for (const deed of heldOf(card)) {
    if (deed.state === 'noted')
      for (const { id } of deed.said) expect(answered, `${deed.what} noted unanswered`).toContain(id)
    if (deed.state === 'failed') expect(deed.lost?.length, 'a failure names its openings').toBeGreaterThan(0)
  }
  const waiting = card.state.deeds.sending.flatMap(({ asking }) => asking.map(({ say }) => say.id))
  for (const id of waiting) expect(ids(card)).toContain(id)
  expect(
    card
      .of('keep')
      .flatMap(({ entries }) => entries.filter(({ how, what }) => how === 'live' && what !== 'note'))
      .every(({ id }) => answered.has(id)),
    'kept here only once the keeper has noted it',
  ).toBe(true)
}

/** The answers that a played card was given. */
function answering(card: Played): Set<string> {
  const answered = new Set<string>()
  const { hear } = card
  card.hear = (...words) => {
    for (const [topic, text] of words) {
      if (topic.startsWith(`${TALLY}/heard/`) && JSON.parse(text).ok) answered.add(topic.split('/').at(-1)!)
    }
    hear.call(card, ...words)
  }
  return answered
}

describe.each(Object.entries(ACTS))('%s', (name, does) => {
  describe.each(Object.entries(FAILURES))('with a failure of %s', (what, { fails, heals }) => {
    test('before it says at once that it cannot be said, or waits for its answer', () => {
      const card = wallOf()
      const answered = answering(card)
      const isUndo = name === 'an undo'
      if (isUndo) {
        look(card)
        answerAll(card)
      }
      fails(card)
      const before = ids(card).length
      if (isUndo) card.play({ kind: 'undo', deed: card.state.deeds.last! })
      else does(card)
      const isOut = ids(card).length > before
      if (what === 'the broker, which takes nothing') expect(isOut).toBe(true)
      else {
        expect(isOut, 'it goes nowhere').toBe(false)
        expect(card.state.deeds.earlier.at(-1)).toMatchObject({
          state: 'failed',
          noWay: 'keeperUnheard',
          ...(isUndo ? { isUndo } : {}),
        })
      }
      expectHonest(card, answered)
    })

    test('during it is told as unanswered, can be said again, and a late answer still counts', () => {
      const card = wallOf()
      const answered = answering(card)
      does(card)
      const asked = ids(card).filter(id => !answered.has(id))
      expect(asked.length).toBeGreaterThan(0)
      fails(card)
      card.play({ kind: 'unanswered', ids: asked })
      expect(card.state.deeds.sending).toEqual([])
      expect(heldOf(card).some(({ state }) => state === 'failed')).toBe(true)
      expectHonest(card, answered)
      heals(card)
      card.hear([`${TALLY}/keeper`, keeperNote(card)])
      if (name !== 'an undo') {
        for (const id of asked) answer(card, id)
        expect(heldOf(card).filter(({ state }) => state === 'failed')).toEqual([])
        expect(
          heldOf(card)
            .filter(({ state }) => state === 'noted')
            .flatMap(({ said }) => said),
        ).toHaveLength(asked.length)
      } else {
        card.play({ kind: 'undo', deed: heldOf(card).find(({ isUndo }) => isUndo)! })
        answerAll(card)
        expect(heldOf(card).some(({ state }) => state === 'undone')).toBe(true)
      }
      expectHonest(card, answered)
    })

    test('after it leaves what was noted as it is, with its way back once all is well', () => {
      const card = wallOf()
      const answered = answering(card)
      does(card)
      answerAll(card)
      const noted = heldOf(card)
      expect(noted.every(({ state }) => state === 'noted' || state === 'undone')).toBe(true)
      fails(card)
      expect(heldOf(card).map(({ state }) => state)).toEqual(noted.map(({ state }) => state))
      heals(card)
      card.hear([`${TALLY}/keeper`, keeperNote(card)])
      const [deed] = heldOf(card).filter(({ state }) => state === 'noted')
      expect(deed !== undefined, 'what was taken back has no way back').toBe(name !== 'an undo')
      if (deed) {
        card.play({ kind: 'undo', deed })
        answerAll(card)
        expect(heldOf(card).some(({ state }) => state === 'undone')).toBe(true)
      }
      expectHonest(card, answered)
    })
  })
})

describe.each(Object.entries(ACTS))('%s', (_name, does) => {
  test('from an account that may not say it names the account, and ticks nothing', () => {
    const card = wallOf()
    const answered = answering(card)
    does(card)
    const asked = ids(card).filter(id => !answered.has(id))
    card.play({ kind: 'unanswered', ids: asked, answer: { ...NO_ANSWER, isForbidden: true } })
    const failed = heldOf(card).filter(({ state }) => state === 'failed')
    expect(failed.map(({ noWay }) => noWay)).toEqual(['mayNotSay'])
    expect(card.state.deeds.sending).toEqual([])
    expectHonest(card, answered)
  })
})

describe.each(Object.entries(FAILURES))('the report of a walk, with a failure of %s', (what, { fails, heals }) => {
  const walked = (): Played => {
    const card = wallOf()
    const step = (mark: string) => ({ mark, name: mark, power: 'cell', cost: 1, leftOut: false }) as const
    card.play({ kind: 'start-round', round: { startedAt: iso(card.now), steps: [step('W01'), step('W02')] } })
    return card
  }
  const isBroker = what === 'the broker, which takes nothing'

  test('before it stays with the walk, which can be ended once all is well', () => {
    const card = walked()
    fails(card)
    card.play({ kind: 'end-round' })
    if (!isBroker) {
      expect(ids(card)).toEqual([])
      expect(card.state.walk.round?.steps).toHaveLength(2)
      expect(card.state.deeds.earlier.at(-1)).toMatchObject({ what: 'round', noWay: 'keeperUnheard' })
      heals(card)
      card.hear([`${TALLY}/keeper`, keeperNote(card)])
      card.play({ kind: 'end-round' })
    }
    expect(ids(card)).toHaveLength(2)
    expect(card.state.walk.round).toBeUndefined()
    expect(card.state.walk.last?.missing).toEqual(['W01', 'W02'])
  })

  test('during it is told with the openings that are not kept, and its report stays on this tablet', () => {
    const card = walked()
    card.play({ kind: 'end-round' })
    fails(card)
    card.play({ kind: 'unanswered', ids: ids(card) })
    expect(heldOf(card)).toMatchObject([{ what: 'round', state: 'failed', lost: ['W01', 'W02'] }])
    expect(card.state.walk.last?.missing).toEqual(['W01', 'W02'])
  })

  test('after it changes nothing', () => {
    const card = walked()
    card.play({ kind: 'end-round' })
    answerAll(card)
    fails(card)
    expect(heldOf(card)).toEqual([])
    expect(card.state.walk.last?.missing).toEqual(['W01', 'W02'])
  })
})

describe('two tablets of one house', () => {
  /** A broker and a keeper between them: what one says both hear answered, and the reading that follows. */
  const shares = (one: Played, other: Played, id: string, mark: string) => {
    for (const card of [one, other]) {
      card.hear([`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true })])
      card.hear([`${TALLY}/opening/${mark}`, reading(card, mark, 'closed')])
    }
  }
  const position = (card: Played, mark: string) => card.state.keeper.readings.get(mark)?.position

  test('that say the same at once are both answered, and neither tells the other’s as its own', () => {
    const [one, other] = [wallOf(), wallOf()]
    other.page = 'f'
    for (const card of [one, other]) card.play({ kind: 'say', what: 'seen-closed', marks: ['W01'] })
    const [first, second] = [ids(one)[0]!, ids(other)[0]!]
    expect(first).not.toBe(second)
    shares(one, other, first, 'W01')
    expect(heldOf(one).map(({ state }) => state)).toEqual(['noted'])
    expect(
      heldOf(other).map(({ state }) => state),
      'its own is not answered yet',
    ).toEqual(['sending'])
    shares(one, other, second, 'W01')
    expect(heldOf(other).map(({ state, said }) => [state, said[0]?.id])).toEqual([['noted', second]])
    expect([position(one, 'W01'), position(other, 'W01')]).toEqual(['closed', 'closed'])
  })

  test('what one takes back is open again on both, and the other cannot take it back', () => {
    const [one, other] = [wallOf(), wallOf()]
    other.page = 'f'
    one.play({ kind: 'say', what: 'seen-closed', marks: ['W01'] })
    shares(one, other, ids(one)[0]!, 'W01')
    expect(heldOf(other)).toEqual([])
    one.play({ kind: 'undo', deed: one.state.deeds.last! })
    for (const card of [one, other]) {
      card.hear([`${TALLY}/heard/${ids(one)[1]}`, JSON.stringify({ v: 1, ok: true })])
      card.hear([`${TALLY}/opening/W01`, reading(card, 'W01', 'opened')])
    }
    expect(heldOf(one).map(({ state }) => state)).toEqual(['undone'])
    expect([position(one, 'W01'), position(other, 'W01')]).toEqual(['opened', 'opened'])
  })
})
