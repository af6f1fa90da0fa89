import { describe, expect, test } from 'vitest'
import type { Deed } from '../../src/card/state/deeds.ts'
import type { CardEvent } from '../../src/card/state/event.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { planRound } from '../../src/ledger/round.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { entry } from '../ledger/notation.ts'
import { NOTHING_KEPT, NOW, Played, REGISTER } from './played.ts'

const HOUR = 3_600_000

const look = (mark: string): CardEvent => ({ kind: 'say', what: 'seen-closed', marks: [mark] })

/** All that can be reached is frozen: a reducer that changes it in place throws. */
function frozen<T>(value: T): T {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value
  Object.freeze(value)
  for (const each of Object.values(value)) frozen(each)
  return value
}

describe('an event', () => {
  test('changes no state in place', () => {
    const card = new Played()
    const step = (run: () => void) => {
      frozen(card.state)
      run()
    }
    step(() => card.begin())
    step(() => card.hear(['ropewalk/w01', 'opened'], ['ropewalk/d01', 'shut', true]))
    step(() => card.play(look('W01')))
    step(() => card.play({ kind: 'undo', deed: card.state.deeds.last! }))
    step(() => card.play({ kind: 'tell', mark: 'W01' }))
    step(() => card.down())
    step(() => card.pass(HOUR))
    step(() => card.live())
    step(() => card.play({ kind: 'left' }))
    expect(card.state.tally.counted).toBeUndefined()
  })
})

describe('a tablet whose clock is behind the time until which it listened', () => {
  const HEARD = 'sashtally heard ropewalk/tally'
  const started = (known: number) => {
    const card = new Played()
    card.memory.set(HEARD, String(known))
    card.begin()
    return card
  }

  test('dates what comes by no exact time until it is set, and the next page knows the last time as well', () => {
    const card = started(NOW + HOUR)
    card.hear(['ropewalk/w01', 'opened'])
    card.play(look('W02'))
    for (const mark of ['W01', 'W02'])
      expect(card.reading(mark)).toMatchObject({ since: new Date(NOW + HOUR).toISOString(), notBefore: true })
    expect(card.state.clock.watched?.isWrong).toBe(true)
    card.pass(60_000)
    card.play({ kind: 'leaving' })
    expect(Number(card.memory.get(HEARD))).toBe(NOW + HOUR + 60_000)
    card.setBy(3 * HOUR)
    card.pass(1_000)
    const sinceUntil = new Date(card.now).toISOString()
    expect(card.reading('W01')).toMatchObject({ sinceUntil })
    expect(card.reading('W01')).not.toHaveProperty('notBefore')
    expect(card.state.clock.watched?.isWrong).toBe(false)
  })

  test('dials anew for a sleep, or a clock that was set, and not for the time that it goes on from', () => {
    const card = started(NOW + HOUR)
    card.effects.length = 0
    card.pass(2_000)
    expect(card.of('redial')).toEqual([])
    card.now += 8 * HOUR
    card.play({ kind: 'tick', mayTurn: false })
    expect(card.of('redial')).toHaveLength(1)
  })
})

describe('a tablet whose clock could be right', () => {
  const opened = () => {
    const card = new Played()
    card.begin()
    card.pass(60_000)
    card.hear(['ropewalk/w01', 'opened'])
    card.pass(60_000)
    return card
  }

  test('and that slept dates nothing anew: what came before the sleep keeps its time', () => {
    const card = opened()
    card.setBy(7 * HOUR)
    card.pass(1_000)
    expect(card.state.clock.jumped).toMatchObject({ by: 7 * HOUR })
    expect(card.reading('W01')).toMatchObject({ since: new Date(NOW + 60_000).toISOString() })
    expect(card.reading('W01')).not.toHaveProperty('sinceUntil')
  })

  test('and that is set to 1970 dates what comes by no exact time', () => {
    const card = opened()
    card.setBy(5_000 - card.now)
    card.pass(1_000)
    expect(card.state.clock.watched?.isWrong).toBe(true)
    card.hear(['ropewalk/w02', 'opened'])
    expect(card.reading('W02')).toMatchObject({ since: new Date(NOW + 121_000).toISOString(), notBefore: true })
  })

  test.each([0, 30_000])(
    'is set back while the link is down, %i ms before it is back: the gap looks no shorter',
    later => {
      const card = opened()
      card.play(look('W01'))
      card.pass(HOUR)
      card.down()
      card.pass(HOUR)
      card.setBy(-HOUR - 60_000)
      card.pass(later)
      card.live()
      expect(card.state.tally.counted?.gap).toBeDefined()
      const { from, to } = card.state.tally.counted!.gap!
      expect(to - from).toBeGreaterThanOrEqual(HOUR)
    },
  )
})

describe('words that came before the store was read', () => {
  test('count after what was kept, at the time at which they came', () => {
    const card = new Played()
    card.play({ kind: 'joined' })
    card.read(REGISTER)
    card.live()
    card.hear(['ropewalk/w01', 'opened'])
    expect(card.reading('W01')).toBeUndefined()
    card.now += 180_000
    card.begin()
    expect(card.reading('W01')?.since).toBe(new Date(NOW).toISOString())
    expect(card.of('keep').map(({ entries }) => entries.map(({ what }) => what))).toEqual([['opened']])
    expect(card.of('opened')).toEqual([{ kind: 'opened', mark: 'W01', at: new Date(NOW).toISOString() }])
  })

  test('of a page that does not keep the tally are kept by nobody, and go on when it is its turn', () => {
    const card = new Played()
    card.begin({ writes: false })
    card.hear(['ropewalk/w01', 'opened'])
    expect(card.reading('W01')?.position).toBe('open')
    expect(card.of('keep')).toEqual([])
    card.play({ kind: 'reading', writes: true })
    card.begin()
    expect(card.reading('W01')?.position).toBe('open')
    expect(card.of('keep').flatMap(({ entries }) => entries.map(({ mark }) => mark))).toEqual(['W01'])
    expect(card.of('opened'), 'told once').toHaveLength(1)
  })
})

describe('a time in which nobody listened', () => {
  const shut = () => {
    const card = new Played()
    card.memory.set('sashtally heard ropewalk/tally', String(NOW))
    card.begin()
    card.hear(['ropewalk/w01', 'opened'])
    card.pass(60_000)
    card.play(look('W01'))
    return card
  }

  test('leaves what was seen shut not certain', () => {
    const card = shut()
    expect(card.reading('W01')).not.toHaveProperty('unheard')
    card.down()
    card.pass(HOUR)
    card.live()
    expect(card.reading('W01')?.unheard).toBe(new Date(card.now).toISOString())
  })

  test('is told of another house’s tally, although the link stands', () => {
    const card = shut()
    card.memory.set('sashtally heard other/tally', String(card.now - HOUR))
    card.read(REGISTER.replace('ropewalk/tally', 'other/tally'))
    const { state } = card
    // Its store is read, and holds a window that somebody saw shut.
    const entries = card.of('keep').flatMap(each => each.entries)
    const ledger = card.of('keep').at(-1)!.ledger
    expect(entries.length).toBeGreaterThan(1)
    expect(state.listening.house).toBe('other/tally')
    card.play({
      kind: 'loaded',
      loaded: { ...NOTHING_KEPT, ledger, listened: String(NOW - HOUR) },
    })
    expect(card.reading('W01')?.unheard).toBeDefined()
  })

  test('is written down with its end once a minute, by the page that keeps the tally alone', () => {
    const card = shut()
    const written = () => card.memory.get('sashtally heard ropewalk/tally')
    card.pass(120_000)
    expect(written()).toBe(String(card.now))
    const other = new Played()
    other.begin({ writes: false })
    other.pass(120_000)
    expect(other.memory.size).toBe(0)
  })
})

describe('a walk that is under way', () => {
  const begun = (register = REGISTER): Played => {
    const card = new Played()
    card.begin({}, register)
    const stops = ['W01', 'W02'].map(mark => ({ mark, name: mark, power: 'cell' as const }))
    const plan = { stops, sides: [], provenAt: {}, overdue: new Set<string>(), leaveOutNatural: true }
    card.play({ kind: 'start-round', round: planRound({ ...plan, startedAt: new Date(card.now).toISOString() }) })
    card.hear(['ropewalk/w01', 'opened'])
    return card
  }
  const ticked = ({ state }: Played) => state.walk.round?.steps.filter(step => step.heardAt).map(({ mark }) => mark)

  test('goes on where its house moves to another broker', () => {
    const card = begun()
    expect(ticked(card)).toEqual(['W01'])
    card.read(REGISTER.replace("'ws://127.0.0.1:9001'", "['ws://127.0.0.1:9001', 'ws://127.0.0.1:9002']"))
    expect(ticked(card)).toEqual(['W01'])
    card.hear(['ropewalk/w02', 'opened'])
    expect(ticked(card)).toEqual(['W01', 'W02'])
    expect(card.of('remember').at(-1)?.name).toBe(
      'sashtally round ropewalk/tally ws://127.0.0.1:9001 ws://127.0.0.1:9002',
    )
  })

  test('is kept under the name of its house alone, so that a reload finds it there and nowhere else', () => {
    const card = begun()
    const name = 'sashtally round ropewalk/tally ws://127.0.0.1:9001'
    card.read(REGISTER.replace("'ws://127.0.0.1:9001'", "['ws://127.0.0.1:9002', 'ws://127.0.0.1:9001']"))
    const kept = new Map(card.of('remember').map(one => [one.name, one.inPage && one.text]))
    expect(kept.get(name)).toBeUndefined()
    const moved = kept.get('sashtally round ropewalk/tally ws://127.0.0.1:9002 ws://127.0.0.1:9001')
    expect(JSON.parse(moved ?? '')).toEqual(card.state.walk.round)
  })

  test.each([
    ['another tally', REGISTER, REGISTER.replace('ropewalk/tally', 'ropewalk/tally2')],
    ['its tally at another broker', REGISTER, REGISTER.replace('ws://127.0.0.1:9001', 'ws://print.lan:9001')],
    ['a tally that its own begins with', REGISTER.replace('ropewalk/tally', 'ropewalk/tally two'), REGISTER],
  ])('is none of a house with %s, and stays kept for its own', (_, own, other) => {
    const card = begun(own)
    expect(ticked(card)).toEqual(['W01'])
    card.read(other)
    expect(ticked(card)).toBeUndefined()
    expect(card.of('remember').filter(({ name, text }) => name.startsWith('sashtally round') && !text)).toEqual([])
  })
})

describe('a forecast', () => {
  const asked = (card: Played) => card.of('forecast').map(({ when }) => when)

  test('is asked for at once by what a person said and by a register, and soon by words', () => {
    const card = new Played()
    card.begin()
    expect(asked(card)).toEqual(['now'])
    card.hear(['ropewalk/w01', 'opened'])
    expect(asked(card)).toEqual(['now', 'soon'])
    card.play(look('W01'))
    expect(asked(card)).toEqual(['now', 'soon', 'now'])
  })

  test('is asked for once a day without any entry', () => {
    const card = new Played()
    card.begin()
    card.pass(23 * HOUR)
    expect(asked(card)).toEqual(['now'])
    card.pass(2 * HOUR)
    expect(asked(card)).toEqual(['now', 'soon'])
    card.pass(24 * HOUR)
    expect(asked(card)).toEqual(['now', 'soon', 'soon'])
  })

  const seenShut = [
    entry('W01 10:00 opened L', 'a'),
    entry('W01 10:00:06 rest L', 'b'),
    entry('W01 10:05 seen-closed', 'c'),
  ]

  test('is what makes a kept cell’s silence certain: until it comes nothing is known of it', () => {
    const card = new Played()
    card.begin({ entries: seenShut })
    expect(card.reading('W01')).toMatchObject({ position: 'closed', doubts: ['overdue'] })
    card.play({ kind: 'forecast', left: {} })
    expect(card.reading('W01')).toMatchObject({ position: 'closed', doubts: [] })
  })

  test('that cannot be made leaves every cell not certain, that of a window opened since too', () => {
    const card = new Played()
    card.begin()
    card.play({ kind: 'no-forecast' })
    card.hear(['ropewalk/w01', 'opened'], ['ropewalk/d01', 'shut'])
    card.pass(60_000)
    card.play(look('W01'))
    card.play({ kind: 'no-forecast' })
    expect(card.reading('W01')).toMatchObject({ position: 'closed', doubts: ['overdue'] })
    // A door on mains has no cell.
    expect(card.reading('D01')).toMatchObject({ position: 'closed', doubts: [] })
  })
})

describe('a tally whose ledger can no longer be read', () => {
  const entries = [
    entry('W01 10:00 opened L', 'a'),
    entry('W01 10:00:06 rest L', 'b'),
    entry('D01 11:00 opened L', 'c'),
    entry('W01 12:00 opened L', 'd'),
  ]

  test('is counted again from what was kept, by the rules of the register, and kept so', () => {
    const card = new Played()
    card.begin({ entries })
    expect(card.reading('W01')).toMatchObject({ position: 'opened', openings: 2, sends: 2 })
    expect(card.reading('D01')).toMatchObject({ position: 'open', openings: 1 })
    expect(card.of('keep-begun').map(({ ledger }) => [ledger.count, ledger.since])).toEqual([[4, entries[0]!.at]])
  })

  test('is the same as one that was read', () => {
    const [again, read] = [new Played(), new Played()]
    again.begin({ entries })
    read.begin({ ledger: applyAll(startLedger(policyOf(parseRegister(REGISTER).register!)), entries) })
    for (const mark of ['W01', 'W02', 'D01']) expect(again.reading(mark)).toEqual(read.reading(mark))
  })

  test('has listened for as long as before: what came before the first word too', () => {
    const since = '2026-09-25T08:00:00.000Z'
    for (const kept of [entries, []]) {
      const card = new Played()
      card.begin({ entries: kept, since })
      expect(card.of('keep-begun').map(({ ledger }) => ledger.since)).toEqual([since])
    }
  })

  test('is kept by the page alone whose turn it is', () => {
    const card = new Played()
    card.begin({ entries, writes: false })
    expect(card.reading('W01')).toMatchObject({ openings: 2 })
    expect(card.of('keep-begun')).toEqual([])
  })
})

describe('a tablet that did not keep when nobody listened', () => {
  const ledger = applyAll(startLedger(policyOf(parseRegister(REGISTER).register!), '2026-09-25T08:00:00.000Z'), [
    entry('W01 10:00 opened L', 'a'),
  ])
  const kept = (card: Played) => JSON.parse(card.memory.get('sashtally deaf ropewalk/tally') ?? 'null')

  test('may have missed all until it last listened, and keeps that once', () => {
    const card = new Played()
    card.begin({ ledger, listened: String(NOW - HOUR) })
    expect(kept(card)).toEqual([{ from: 0, to: NOW }])
    const again = new Played()
    again.begin({ ledger, deaf: kept(card), listened: String(NOW) })
    expect(again.state.tally.counted?.deaf).toEqual(kept(card))
    const unknown = new Played()
    unknown.begin({ ledger })
    expect(kept(unknown)[0].from).toBe(0)
  })

  test('and that counted nothing missed nothing', () => {
    const card = new Played()
    card.begin()
    expect(card.of('remember').find(({ name }) => name.includes('deaf'))?.text).toBe('[]')
  })
})

describe('when what is shown was last known to be so', () => {
  test('is not the end of a sleep, and is known again once the link has said that it is live', () => {
    const card = new Played()
    card.begin()
    card.pass(60_000)
    const fellAsleep = card.now
    card.now += 8 * HOUR
    card.play({ kind: 'tick', mayTurn: false })
    expect(card.of('redial')).toHaveLength(1)
    card.play({ kind: 'link', standing: { state: 'connecting', since: card.now } })
    expect(card.state.link.liveAt).toBe(fellAsleep)
    card.live()
    card.pass(5 * 60_000)
    const end = card.now
    card.down()
    card.pass(HOUR)
    expect(card.state.link.liveAt).toBe(end)
  })
})

describe('what is said in a house without a keeper', () => {
  test('is noted at once, and taken back in this tablet’s own tally', () => {
    const card = new Played()
    card.begin()
    card.hear(['ropewalk/w01', 'opened'], ['ropewalk/w02', 'opened'])
    card.play({ kind: 'say', what: 'seen-closed', marks: ['W01', 'W02'] })
    const noted = card.state.deeds.last as Deed
    expect(noted).toMatchObject({ state: 'noted', way: 'own', said: [{ mark: 'W01' }, { mark: 'W02' }] })
    expect([...card.state.deeds.ticked]).toEqual(['W01', 'W02'])
    card.play({ kind: 'undo', deed: noted })
    expect(card.state.deeds.last).toMatchObject({ state: 'undone', isUndo: true })
    expect([...card.state.deeds.ticked]).toEqual([])
    expect(card.reading('W02')?.position).toBe('open')
    const ids = card.of('keep').flatMap(({ entries }) => entries.map(({ id }) => id))
    expect(new Set(ids).size, 'each entry has its own id').toBe(ids.length)
  })
})

describe('what is said to a keeper', () => {
  const TALLY = 'ropewalk/tally'
  const heard = (card: Played, id: string, answer: object) =>
    card.hear([`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ...answer })])
  const withKeeper = () => {
    const card = new Played()
    card.play({
      kind: 'attributes',
      attributes: { ...card.state.attributes, maySay: true },
    })
    card.begin()
    const iso = new Date(card.now).toISOString()
    card.hear([`${TALLY}/keeper`, JSON.stringify({ v: 1, state: 'live', beat: iso, since: iso })])
    card.play({ kind: 'say', what: 'seen-closed', marks: ['W01', 'W02'] })
    return { card, ids: card.of('publish').map(({ id }) => id) }
  }

  test('holds only where it was answered, each opening apart', () => {
    const { card, ids } = withKeeper()
    expect(card.of('publish').map(({ topic }) => topic)).toEqual([`${TALLY}/say/W01`, `${TALLY}/say/W02`])
    expect(card.of('keep')).toEqual([])
    heard(card, ids[0]!, { ok: true })
    expect(card.state.deeds.last?.state).toBe('sending')
    heard(card, ids[1]!, { ok: false, problem: 'the disk is full' })
    expect(card.state.deeds.last).toMatchObject({ state: 'noted', said: [{ mark: 'W01' }] })
    expect(card.state.deeds.earlier).toMatchObject([{ lost: ['W02'], problem: 'the disk is full' }])
    expect([...card.state.deeds.ticked]).toEqual(['W01'])
    expect(card.state.deeds.sending).toEqual([])
  })

  test('that nobody answers in time can still be taken back, and still be noted late', () => {
    const { card, ids } = withKeeper()
    card.play({ kind: 'unanswered', ids })
    expect(card.state.deeds.earlier).toMatchObject([{ state: 'failed', lost: ['W01', 'W02'], said: [{}, {}] }])
    heard(card, ids[1]!, { ok: true })
    expect(card.state.deeds.earlier).toMatchObject([
      { state: 'noted', said: [{ mark: 'W02' }] },
      { state: 'failed', lost: ['W01'], said: [{ mark: 'W01' }] },
    ])
    heard(card, ids[1]!, { ok: true })
    expect(card.state.deeds.earlier, 'an answer that comes again changes nothing').toHaveLength(2)
  })

  test('is not waited for any more when the element leaves the page', () => {
    const { card } = withKeeper()
    card.play({ kind: 'left' })
    expect(card.state.deeds.sending).toEqual([])
    expect(card.state.deeds.earlier).toMatchObject([{ state: 'failed', lost: ['W01', 'W02'] }])
  })
})
