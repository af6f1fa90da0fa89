import { describe, expect, it } from 'vitest'
import { hearSay } from '../../src/house/hear-say.ts'
import { step } from '../../src/house/machine.ts'
import { policyOf, policyWithoutModel } from '../../src/house/policy.ts'
import { type HouseEvent, type HouseState, type Stepped, startHouse } from '../../src/house/state.ts'
import { isSurelyShut } from '../../src/ledger/headline.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Left } from '../../src/protocol/reading.ts'
import { registerOf } from '../keeper/bench-house.ts'
import { DEAD } from './left.ts'

const NOON = Date.parse('2026-06-01T12:00:00.000Z')
const bytes = (text: string) => new TextEncoder().encode(text)

/** Plays events one after the other; what a shell would have kept. */
class House {
  state: HouseState = startHouse()
  readonly kept: Entry[] = []
  now = NOON
  #ids = 0

  constructor(register = registerOf()) {
    this.play({ kind: 'register', register, policies: policyOf(register), id: this.id(), now: this.now })
  }

  id = (): string => `e${++this.#ids}`

  play(event: HouseEvent): Stepped {
    const stepped = step(this.state, event)
    this.state = stepped.state
    for (const effect of stepped.effects) if (effect.kind === 'keep') this.kept.push(...effect.entries)
    return stepped
  }

  word(topic: string, text: string, { retain = false } = {}): Stepped {
    const message = { topic, payload: bytes(text), retain, dup: false, qos: 1 as const }
    const arrival = { at: new Date(this.now).toISOString(), linkLiveSeconds: 3600 }
    return this.play({
      kind: 'words',
      words: [{ id: this.id(), message, arrival }],
      now: this.now,
      says: { hear: hearSay, find: id => this.kept.find(each => each.id === id) },
    })
  }

  say(mark: string, say: Record<string, unknown>): Stepped {
    return this.word(`ropewalk/tally/say/${mark}`, JSON.stringify({ v: 1, ...say }))
  }

  missed(more: Partial<Extract<HouseEvent, { kind: 'missed' }>> = {}): Stepped {
    return this.play({ kind: 'missed', id: this.id(), now: this.now, ...more })
  }

  reading = (mark: string) => this.state.readings.get(mark)
}

const kinds = ({ effects }: Stepped) => effects.map(({ kind }) => kind)

describe('a clock', () => {
  const clock = (house: House, stepMilliseconds: number, isWrong = false) =>
    house.play({ kind: 'clock', stepMilliseconds, isWrong, id: house.id(), now: house.now })

  it('that cannot be right gives what comes no latest time until it is set, a look neither', () => {
    const house = new House()
    clock(house, 0, true)
    house.word('ropewalk/w01', 'opened')
    house.play({
      kind: 'entries',
      entries: [{ id: 'look', at: new Date(NOON).toISOString(), mark: 'W02', what: 'seen-closed', how: 'live' }],
      now: house.now,
    })
    for (const { at, how, until } of house.kept)
      expect([at, how, until]).toEqual(['2026-06-01T12:00:00.000Z', 'queued', undefined])
    house.now += 7_200_000
    clock(house, 3_600_000, true)
    for (const mark of ['W01', 'W02'])
      expect(house.reading(mark), 'set, and wrong as before').toMatchObject({ notBefore: true })
    clock(house, 3_600_000)
    for (const mark of ['W01', 'W02'])
      expect(house.reading(mark)).toMatchObject({
        since: '2026-06-01T12:00:00.000Z',
        sinceUntil: '2026-06-01T14:00:00.000Z',
      })
    house.word('ropewalk/w02', 'opened')
    expect(house.kept.at(-1)).toMatchObject({ how: 'live' })
  })

  it('that is set back leaves no time ahead: of what came by it is known that it came since the tally began', () => {
    const house = new House()
    house.word('ropewalk/w01', 'opened')
    house.now += 7_200_000
    for (const mark of ['w01', 'w02']) house.word(`ropewalk/${mark}`, 'opened')
    house.now -= 3_600_000
    clock(house, -3_600_000)
    const sinceUntil = '2026-06-01T13:00:00.000Z'
    expect(house.reading('W01')).toMatchObject({ since: '2026-06-01T12:00:00.000Z', sinceUntil })
    // Its first word lies ahead too: only this program was there before.
    expect(house.reading('W02')).toMatchObject({ since: '2026-01-01T00:00:00.000Z', sinceUntil })
  })
})

describe('a word', () => {
  it('is kept, changes its reading alone, and asks for a forecast and for the time of its end', () => {
    const house = new House()
    const before = house.state.readings
    const stepped = house.word('ropewalk/w01', 'opened')
    expect(kinds(stepped)).toEqual(['keep', 'forecast', 'changed', 'wake'])
    expect(stepped.effects).toContainEqual({ kind: 'changed', marks: ['W01'] })
    expect(stepped.effects).toContainEqual({ kind: 'wake', at: NOON + 17_000 })
    expect(house.reading('W01')).toMatchObject({ position: 'open', openings: 1 })
    expect(house.reading('W02')).toBe(before.get('W02'))
    house.now += 17_000
    expect(kinds(house.play({ kind: 'time', now: house.now }))).toEqual(['changed', 'wake'])
    expect(house.reading('W01')).toMatchObject({ position: 'opened' })
  })

  it('leaves the state before it as it was, so that a shell may drop what a disk refused', () => {
    const house = new House()
    const before = house.state
    const frozen = JSON.stringify([before.ledger, [...before.readings]])
    const [one, other] = [house.word('ropewalk/w01', 'opened'), step(before, { kind: 'time', now: NOON })]
    expect(JSON.stringify([before.ledger, [...before.readings]])).toBe(frozen)
    expect(one.state).not.toBe(other.state)
    expect(other.state.readings.get('W01')?.position).toBe('no-word')
  })

  it('that tells nothing new is not kept', () => {
    const house = new House()
    house.word('ropewalk/w01', 'asleep', { retain: true })
    expect(kinds(house.word('ropewalk/w01', 'asleep', { retain: true }))).toEqual([])
    expect(house.kept).toHaveLength(1)
  })
})

describe('a say', () => {
  it('is answered, kept once, and forecast before it is shown', () => {
    const house = new House()
    house.word('ropewalk/w01', 'opened')
    const say = { id: 'a1', what: 'seen-closed' }
    const first = house.say('W01', say)
    expect(first.effects).toContainEqual({ kind: 'answer', id: 'a1', note: { v: 1, ok: true } })
    expect(first.effects).toContainEqual({ kind: 'forecast', when: 'now' })
    expect(house.reading('W01')?.position).toBe('closed')
    expect(kinds(house.say('W01', say))).toEqual(['answer'])
  })

  it('that does not fit is answered with the reason, and one without an id is told', () => {
    const house = new House()
    expect(house.say('W01', { id: 'a1', what: 'opened' }).effects).toMatchObject([
      { kind: 'answer', note: { ok: false, problem: expect.stringMatching(/what must be one of/) } },
    ])
    expect(house.say('W01', {}).effects).toMatchObject([{ kind: 'refused', why: expect.stringMatching(/W01/) }])
  })
})

describe('a time in which nobody listened', () => {
  const seenShut = () => {
    const house = new House()
    house.word('ropewalk/w01', 'opened')
    house.now += 60_000
    house.say('W01', { id: 's1', what: 'seen-closed' })
    house.word('ropewalk/d01', 'shut')
    house.now += 3_600_000
    return house
  }

  it('leaves what was shut not certain, until the next look', () => {
    const house = seenShut()
    expect(kinds(house.missed())).toEqual(['keep', 'forecast', 'changed'])
    expect(house.reading('W01')).toMatchObject({ position: 'closed', unheard: '2026-06-01T13:01:00.000Z' })
    expect(house.missed().effects).toEqual([])
    house.say('W01', { id: 's2', what: 'seen-closed' })
    expect(house.reading('W01')).not.toHaveProperty('unheard')
  })

  it('hides nothing where it was shorter than a will takes, or where the broker kept what came', () => {
    const house = seenShut()
    expect(house.missed({ from: house.now - 5_000 }).effects).toEqual([])
    expect(house.missed({ queued: true }).effects).toEqual([])
    expect(house.missed({ from: house.now + 5_000 }).effects, 'a clock that was set back').not.toEqual([])
  })

  it('was longer by as much as the clock is set forward soon after, and hides nothing where it is set back', () => {
    const house = seenShut()
    const clock = (stepMilliseconds: number) =>
      house.play({ kind: 'clock', stepMilliseconds, isWrong: false, id: house.id(), now: house.now })
    house.missed({ from: house.now - 5_000 })
    house.now += 60_000
    expect(clock(-60_000).effects).toEqual([])
    house.now += 3_600_000
    expect(kinds(clock(3_600_000))).toContain('keep')
    expect(house.reading('W01')?.unheard).toBe('2026-06-01T13:01:00.000Z')
    house.say('W01', { id: 's2', what: 'seen-closed' })
    house.now += 3_600_000
    const again = clock(3_600_000).effects.flatMap(effect => (effect.kind === 'keep' ? effect.entries : []))
    expect(again.map(({ text }) => text)).not.toContain('unheard')
    expect(house.reading('W01')).not.toHaveProperty('unheard')
  })

  it('is over for a contact of both edges with the next word, be it the one that the broker kept', () => {
    const house = seenShut()
    house.missed()
    expect(house.reading('D01')?.unheard).toBeDefined()
    house.word('ropewalk/d01', 'shut', { retain: true })
    expect(house.reading('D01')?.unheard).toBeUndefined()
    house.missed({ to: house.now })
    expect(house.reading('D01')?.unheard, 'it has told how it stands since').toBeUndefined()
  })

  it('writes nothing of a door whose kept word is on its way, where the shell says so', () => {
    const house = seenShut()
    const since = house.now
    expect(kinds(house.missed({ awaitsKept: true, marks: ['D01'] }))).toEqual(['changed', 'wake'])
    expect(house.state.wakeAt).toBe(since + 10_000)
    expect(house.reading('D01')).toMatchObject({ position: 'closed', unheard: new Date(since).toISOString() })
    house.now += 1_000
    expect(kinds(house.word('ropewalk/d01', 'shut', { retain: true }))).toEqual(['changed', 'wake'])
    expect(house.reading('D01')).not.toHaveProperty('unheard')
    const before = house.kept.length
    house.now += 20_000
    house.play({ kind: 'time', now: house.now })
    expect(house.kept).toHaveLength(before)
  })

  it('is written of a door whose kept word did not come, in its place before what was seen since', () => {
    const house = seenShut()
    house.missed({ awaitsKept: true, marks: ['D01'] })
    const gap = house.now
    house.now += 10_000
    expect(kinds(house.play({ kind: 'time', now: house.now }))).toContain('keep')
    expect(house.kept.at(-1)).toMatchObject({
      mark: 'D01',
      text: 'unheard',
      how: 'said',
      at: new Date(gap).toISOString(),
    })
    expect(house.reading('D01')?.unheard).toBeDefined()
    house.say('D01', { id: 's2', what: 'seen-closed' })
    house.now += 60_000
    house.missed({ awaitsKept: true, marks: ['D01'] })
    expect(kinds(house.play({ kind: 'leaving', now: house.now }))).toContain('keep')
  })

  it('ends for a door that was seen shut while its kept word was waited for', () => {
    const house = seenShut()
    house.missed({ awaitsKept: true, marks: ['D01'] })
    house.now += 1_000
    house.play({
      kind: 'entries',
      entries: [{ id: 's2', at: new Date(house.now).toISOString(), mark: 'D01', what: 'seen-closed', how: 'live' }],
      now: house.now,
    })
    expect(house.reading('D01')).not.toHaveProperty('unheard')
    house.now += 60_000
    house.play({ kind: 'time', now: house.now })
    expect(house.reading('D01')).not.toHaveProperty('unheard')
  })

  it('is what was before a line was put back, and before its topic was edited', () => {
    const house = seenShut()
    const register = registerOf()
    const without = { ...register, openings: register.openings.filter(({ mark }) => mark !== 'W01') }
    house.play({ kind: 'register', register: without, policies: policyOf(without), id: house.id(), now: house.now })
    expect(house.reading('W01')).toBeUndefined()
    house.play({ kind: 'register', register, policies: policyOf(register), id: house.id(), now: house.now })
    expect(house.reading('W01')?.unheard).toBeDefined()
    expect(house.reading('D01')?.unheard).toBeUndefined()
    const moved = register.openings.map(each => (each.mark === 'D01' ? { ...each, topic: 'ropewalk/yard' } : each))
    const edited = { ...register, openings: moved }
    house.play({ kind: 'register', register: edited, policies: policyOf(edited), id: house.id(), now: house.now })
    expect(house.reading('D01')?.unheard).toBeDefined()
  })
})

describe('a test that was said', () => {
  const until = new Date(NOON + 600_000).toISOString()

  it('takes words of its opening out of the count, of the same gathering too, until it ends', () => {
    const house = new House()
    const word = (topic: string, text: string) => ({
      id: house.id(),
      message: { topic, payload: bytes(text), retain: false, dup: false, qos: 1 as const },
      arrival: { at: new Date(house.now).toISOString() },
    })
    const say = JSON.stringify({ v: 1, id: 't1', what: 'on-test', until })
    const words = [word('ropewalk/w01', 'opened'), word('ropewalk/tally/say/W02', say), word('ropewalk/w02', 'opened')]
    house.play({ kind: 'words', words, now: house.now, says: { hear: hearSay, find: () => undefined } })
    expect(house.kept.map(({ mark, how }) => [mark, how])).toEqual([
      ['W01', 'live'],
      ['W02', 'live'],
      ['W02', 'tested'],
    ])
    expect(house.reading('W02')).toMatchObject({ position: 'no-word', openings: 0, onTestUntil: until })
    house.now += 600_000
    house.play({ kind: 'time', now: house.now })
    expect(house.reading('W02')).not.toHaveProperty('onTestUntil')
    house.word('ropewalk/w02', 'opened')
    expect(house.reading('W02')).toMatchObject({ openings: 1 })
  })

  it('has an end, within a day, and begins when it is heard', () => {
    const house = new House()
    const refused = (say: Record<string, unknown>, why: RegExp) =>
      expect(house.say('W01', { id: house.id(), what: 'on-test', ...say }).effects).toMatchObject([
        { kind: 'answer', note: { ok: false, problem: expect.stringMatching(why) } },
      ])
    refused({}, /on-test needs until/)
    refused({ until: new Date(NOON + 2 * 86_400_000).toISOString() }, /more than a day ahead/)
    refused({ until, at: new Date(NOON - 1000).toISOString() }, /on-test begins now/)
    expect(house.say('W01', { id: 'n1', what: 'note', note: 'x', until }).effects).toMatchObject([
      { note: { ok: false, problem: expect.stringMatching(/until belongs to on-test/) } },
    ])
  })
})

describe('entries that are entries already', () => {
  it('are kept once, and left out where they are none', () => {
    const house = new House()
    const one: Entry = { id: 'x', at: '2026-06-01T11:00:00.000Z', mark: 'W01', what: 'opened', how: 'live' }
    const entries = [one, one, { ...one, id: '' }]
    expect(house.play({ kind: 'entries', entries, now: house.now }).effects[0]).toEqual({
      kind: 'keep',
      entries: [one],
    })
    expect(house.play({ kind: 'entries', entries, now: house.now }).effects).toEqual([])
  })
})

describe('a silent cell', () => {
  const fine: Left = { ...DEAD, alive: 0.9, next: 0.9 }
  const forecast = (house: House, left: Left, madeFrom = house.state.ledger) =>
    house.play({ kind: 'forecast', left: { W01: left }, madeFrom, id: house.id(), now: house.now })
  /** Heard, seen shut and forecast. */
  const silent = (left: Left) => {
    const house = new House()
    house.word('ropewalk/w01', 'opened')
    house.now += 3_600_000
    house.say('W01', { id: 'shut', what: 'seen-closed' })
    forecast(house, left)
    house.now += 60_000
    return house
  }
  const isCertain = (house: House) => isSurelyShut(house.reading('W01')!)

  it.each(['failed', 'cell-fitted'])('stays doubtful when %s is said of it and taken back', what => {
    const house = silent(DEAD)
    house.say('W01', { id: 'wrong', what })
    house.say('W01', { id: 'back', what: 'undone', undoes: 'wrong' })
    expect(house.reading('W01')?.doubts).toEqual(['overdue'])
    forecast(house, fine)
    expect(isCertain(house)).toBe(true)
  })

  it('stays doubtful also when a forecast came before what was said is taken back', () => {
    const house = silent(DEAD)
    house.say('W01', { id: 'wrong', what: 'failed' })
    const madeFrom = house.state.ledger
    forecast(house, { ...DEAD, alive: 0 })
    house.say('W01', { id: 'back', what: 'undone', undoes: 'wrong' })
    expect(house.reading('W01')?.doubts).toEqual(['overdue'])
    forecast(house, fine, madeFrom)
    expect(isCertain(house), 'by a forecast of the time before').toBe(false)
  })

  it('is doubtful when its proof is taken back, until a forecast', () => {
    const house = silent(DEAD)
    house.say('W01', { id: 'test', what: 'proved' })
    forecast(house, fine)
    expect(isCertain(house)).toBe(true)
    house.say('W01', { id: 'back', what: 'undone', undoes: 'test' })
    expect(isCertain(house)).toBe(false)
    forecast(house, fine)
    expect(isCertain(house)).toBe(true)
  })

  it('is doubtful when no forecast can be made, until one is', () => {
    const house = silent(fine)
    expect(isCertain(house)).toBe(true)
    house.play({ kind: 'no-forecast', id: house.id(), now: house.now })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: ['overdue'] })
    house.now += 60_000
    house.word('ropewalk/w02', 'opened')
    expect(isCertain(house), 'after other words').toBe(false)
    forecast(house, fine)
    expect(isCertain(house)).toBe(true)
  })
})

describe('a forecast that says low', () => {
  const left = { p05: 0, p50: 0, p95: 1, next: 0.1, restsOn: { source: 'house', cells: 3, deaths: 2 } } as const

  it('is noted once, and low stays until a new cell', () => {
    const house = new House()
    house.word('ropewalk/w01', 'opened')
    house.play({ kind: 'forecast', left: { W01: left }, id: house.id(), now: house.now })
    expect(house.kept.at(-1)).toMatchObject({ what: 'note', text: 'low', by: 'sashtally', mark: 'W01' })
    house.play({ kind: 'forecast', left: {}, id: house.id(), now: house.now })
    expect(house.reading('W01')?.doubts).toContain('low')
    expect(house.kept.filter(({ text }) => text === 'low')).toHaveLength(1)
    house.say('W01', { id: 'c1', what: 'cell-fitted' })
    expect(house.reading('W01')?.doubts).not.toContain('low')
  })

  it('is not noted for a cell that was fitted while the forecast of the one before was being made', () => {
    const house = new House()
    const nearlySpent: Left = { p05: 0, p50: 0, p95: 1, next: 0.4, restsOn: { source: 'house', cells: 3, deaths: 2 } }
    const { ledger: madeFrom } = house.state
    const forecast = (more: object) =>
      house.play({
        kind: 'forecast',
        left: { W01: nearlySpent, W02: nearlySpent },
        ...more,
        id: house.id(),
        now: house.now,
      })
    house.say('W01', { id: 'new', what: 'cell-fitted' })
    forecast({ madeFrom })
    expect(house.reading('W01')).toMatchObject({ doubts: expect.not.arrayContaining(['low']) })
    expect(house.reading('W01')).not.toHaveProperty('left')
    expect(house.reading('W02')?.doubts).toContain('low')
    forecast({ madeFrom: house.state.ledger })
    expect(house.reading('W01')?.doubts, 'of the cell that is in').toContain('low')
  })

  it('reads low by the model of its cell also where that came after the register', () => {
    const house = new House()
    const given = house.state.ledger.policy.W01!.modelSends!
    house.play({
      kind: 'register',
      register: registerOf(),
      policies: policyWithoutModel(registerOf()),
      id: house.id(),
      now: house.now,
    })
    const left: Left = { p05: 1, p50: 5, p95: 9, next: 0.99, restsOn: { source: 'practice', cells: 0, deaths: 0 } }
    const entries = Array.from({ length: Math.ceil(given) }, (_, n): Entry => {
      const at = new Date(house.now - (100 - n) * 3_600_000).toISOString()
      return { id: `o${n}`, at, mark: 'W01', what: 'opened', how: 'live' }
    })
    house.play({ kind: 'entries', entries, now: house.now })
    house.play({ kind: 'forecast', left: { W01: left }, id: house.id(), now: house.now })
    expect(house.reading('W01')?.doubts).not.toContain('low')
    house.play({ kind: 'forecast', left: { W01: left }, modelSends: { W01: given }, id: house.id(), now: house.now })
    expect(house.reading('W01')?.doubts).toContain('low')
  })
})
