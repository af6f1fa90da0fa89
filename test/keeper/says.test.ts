import { describe, expect, it } from 'vitest'
import { BenchHouse } from './bench-house.ts'

const started = async () => {
  const house = new BenchHouse()
  await house.start()
  return house
}

describe('what a person says', () => {
  it('counts now, or at its own time', async () => {
    const house = await started()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(3600)
    expect(
      await house.person('W01', { id: 'a1', what: 'seen-closed', at: '2026-06-01T07:50:00.000Z', by: 'Ada' }),
    ).toEqual({ v: 1, ok: true })
    expect(house.reading('W01')?.position).toBe('opened')
    expect(await house.person('W01', { id: 'a2', what: 'seen-closed' })).toEqual({ v: 1, ok: true })
    expect(house.reading('W01')?.position).toBe('closed')
    expect(house.entries('W01').slice(1)).toMatchObject([
      { id: 'a1', how: 'said', at: '2026-06-01T07:50:00.000Z', by: 'Ada' },
      { id: 'a2', how: 'live', at: '2026-06-01T09:00:00.010Z' },
    ])
  })

  it('counts at once in the order in which it came, though the clock stepped back', async () => {
    const house = await started()
    await house.say('ropewalk/w01', 'opened')
    house.clock.set(-3_600_000)
    await house.person('W01', { id: 'a2', what: 'seen-closed' })
    expect(house.reading('W01')?.position).toBe('closed')
  })

  it('is kept whole: a cell with its batch and volts, a flashed revision, a note', async () => {
    const house = await started()
    await house.person('W01', { id: 'c', what: 'cell-fitted', cell: { type: 'CR2032', batch: 'B7', millivolts: 3212 } })
    await house.person('W01', { id: 'm', what: 'module-fitted' })
    await house.person('W01', { id: 'f', what: 'flashed', revision: '0a1b2c3d' })
    await house.person('W01', { id: 'p', what: 'proved' })
    await house.person('W01', { id: 'x', what: 'failed', note: 'bench' })
    await house.person('W01', { id: 'n', what: 'note', note: 'new putty' })
    expect(house.entries('W01')).toMatchObject([
      { what: 'cell-fitted', cell: { type: 'CR2032', batch: 'B7', millivolts: 3212 } },
      { what: 'module-fitted' },
      { what: 'flashed', revision: '0a1b2c3d' },
      { what: 'proved' },
      { what: 'failed', text: 'bench' },
      { what: 'note', note: 'new putty' },
    ])
    expect(house.reading('W01')?.doubts).toEqual(['reflash'])
  })

  it('twice with one id counts once and is answered twice', async () => {
    const house = await started()
    const say = { id: 'a1', what: 'cell-fitted', cell: { type: 'CR2032' } }
    expect(await house.person('W01', say)).toEqual({ v: 1, ok: true })
    await house.clock.pass(5)
    expect(await house.person('W01', say)).toEqual({ v: 1, ok: true })
    expect(house.entries('W01')).toHaveLength(1)
    expect(await house.person('W02', { id: 'a1', what: 'seen-closed' })).toMatchObject({
      ok: false,
      problem: expect.stringMatching(/id a1 stands already for another entry of W01/),
    })
  })

  it.each([
    ['unknown', 'W99', { what: 'seen-closed' }],
    ['no-cell', 'D01', { what: 'cell-fitted', cell: { type: 'CR2032' } }],
    ['not-there', 'W01', { what: 'undone', undoes: 'nothing' }],
    ['signed', 'W01', { what: 'seen-closed', by: 'sashtally' }],
    ['future', 'W01', { what: 'seen-closed', at: '2999-01-01T00:00:00Z' }],
    ['form', 'W01', { what: 'opened' }],
  ])('that is refused says why in a word too: %s', async (code, mark, say) => {
    const house = await started()
    expect(await house.person(mark, { id: 'r1', ...say })).toMatchObject({ ok: false, code })
  })

  it('that somebody saw it shut tells in its reading who, until it is opened', async () => {
    const house = await started()
    await house.person('W01', { id: 's1', what: 'seen-closed', by: 'Hall' })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', seenBy: 'Hall' })
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    expect(house.reading('W01')).not.toHaveProperty('seenBy')
    await house.person('W01', { id: 's3', what: 'seen-closed', by: 'x'.repeat(99) })
    expect(house.reading('W01')?.seenBy).toBe('x'.repeat(40))
    await house.say('ropewalk/w01', 'opened')
    expect(house.reading('W01')).not.toHaveProperty('seenBy')
  })

  it('of all openings at once is one say each', async () => {
    const house = await started()
    for (const mark of ['W01', 'W02', 'W03', 'D01']) {
      expect((await house.person(mark, { id: `all-${mark}`, what: 'seen-closed' }))?.ok).toBe(true)
      expect(house.reading(mark)?.position).toBe('closed')
    }
  })

  it('can be taken back, and that taken back again', async () => {
    const house = await started()
    await house.say('ropewalk/w01', 'opened')
    await house.person('W01', { id: 'a1', what: 'seen-closed' })
    await house.clock.pass(30)
    expect(await house.person('W01', { id: 'u1', what: 'undone', undoes: 'a1' })).toMatchObject({ ok: true })
    expect(house.reading('W01')?.position).toBe('opened')
    expect(await house.person('W01', { id: 'u2', what: 'undone', undoes: 'u1' })).toMatchObject({ ok: true })
    expect(house.reading('W01')?.position).toBe('closed')
    expect(house.entries('W01').map(({ what }) => what)).toEqual(['opened', 'seen-closed', 'undone', 'undone'])
  })

  it('that waited at the broker while the keeper was down keeps its place', async () => {
    const house = await started()
    await house.say('ropewalk/w01', 'opened')
    house.kill()
    await house.clock.pass(60)
    house.broker.publish('ropewalk/tally/say/W01', JSON.stringify({ v: 1, id: 'a1', what: 'seen-closed' }))
    house.broker.publish('ropewalk/w01', 'opened')
    await house.start()
    expect(house.entries('W01').map(({ what, how }) => [what, how])).toEqual([
      ['opened', 'live'],
      ['seen-closed', 'queued'],
      ['opened', 'queued'],
    ])
    expect(house.reading('W01')?.position).not.toBe('closed')
    expect(
      house.broker.log.some(({ topic, text }) => topic === 'ropewalk/tally/heard/a1' && text.includes('true')),
    ).toBe(true)
  })
})

describe('what is refused is answered with the reason', () => {
  type Case = [string, string, Record<string, unknown>, RegExp]
  const cases: Case[] = [
    ['an opening nobody knows', 'W99', { id: 'x', what: 'seen-closed' }, /no opening W99; it has W01, W02, W03, D01/],
    ['a contact’s word', 'W01', { id: 'x', what: 'opened' }, /what must be one of seen-closed/],
    [
      'the future',
      'W01',
      { id: 'x', what: 'seen-closed', at: '2026-06-01T08:00:01.000Z' },
      /at lies in the future: .* the keeper's clock says 2026-06-01T08:00:00/,
    ],
    [
      'the keeper’s own name',
      'W01',
      { id: 'x', what: 'note', note: 'low', by: 'sashtally' },
      /by must not be sashtally/,
    ],
    [
      'the keeper’s own name, dressed up',
      'W01',
      { id: 'x', what: 'note', note: 'low', by: ' SashTally ' },
      /by must not be sashtally/,
    ],
    ...['sаshtally', 'ｓａｓｈｔａｌｌｙ', 'sash\u200btally', 'sáshtally', 'sashta11y', 'sashtaIIy', 'SASH-TALLY'].map(
      (by): Case => [
        `the keeper’s own name, as ${JSON.stringify(by)}`,
        'W01',
        { id: 'x', what: 'note', note: 'low', by },
        /by must not be sashtally/,
      ],
    ),
    ['a cell on mains', 'D01', { id: 'x', what: 'cell-fitted' }, /D01 runs on mains and has no cell/],
    ['taking back nothing', 'W01', { id: 'x', what: 'undone', undoes: 'nope' }, /W01 has no entry nope/],
    ['another version', 'W01', { v: 2, id: 'x', what: 'seen-closed' }, /v must be 1 \(found 2\)/],
    ['a flash without a revision', 'W01', { id: 'x', what: 'flashed' }, /flashed needs revision/],
  ]
  for (const [what, mark, say, reason] of cases) {
    it(what, async () => {
      const house = await started()
      const answer = await house.person(mark, say)
      expect(answer?.ok).toBe(false)
      expect(answer?.problem).toMatch(reason)
      expect(house.entries()).toEqual([])
    })
  }

  it('taking back a word of the contact, or another opening’s entry', async () => {
    const house = await started()
    await house.say('ropewalk/w01', 'opened')
    await house.person('W02', { id: 'a1', what: 'seen-closed' })
    const [word] = house.entries('W01')
    expect((await house.person('W01', { id: 'x', what: 'undone', undoes: word!.id }))?.problem).toMatch(
      /is a word of the contact \(opened\)/,
    )
    expect((await house.person('W01', { id: 'y', what: 'undone', undoes: 'a1' }))?.problem).toMatch(
      /W01 has no entry a1/,
    )
  })

  it('what lies too far back to count there', async () => {
    const house = await started()
    await house.person('W03', { id: 'first', what: 'seen-closed' })
    for (let n = 0; n < 300; n++) house.broker.publish('ropewalk/w03', `{"word":"opened","boots":${n}}`)
    await house.clock.pass(60)
    expect((await house.person('W03', { id: 'x', what: 'undone', undoes: 'first' }))?.problem).toMatch(
      /first is too far back: W03 has had 256 entries since; say what is so now instead/,
    )
    expect(
      (await house.person('W03', { id: 'y', what: 'seen-closed', at: '2026-05-01T00:00:00.000Z' }))?.problem,
    ).toMatch(/at is too far back: W03 has had more than 256 entries/)
  })

  it('a retained say, which would come again at every start', async () => {
    const house = new BenchHouse()
    house.broker.publish('ropewalk/tally/say/W01', JSON.stringify({ v: 1, id: 'r', what: 'seen-closed' }), {
      retain: true,
    })
    await house.start()
    expect(house.entries()).toEqual([])
    const answer = house.broker.log.find(({ topic }) => topic === 'ropewalk/tally/heard/r')
    expect(answer?.text).toMatch(/must not be retained/)
  })

  it('text without an id cannot be answered, and one line says so', async () => {
    const house = await started()
    for (let n = 0; n < 50; n++) await house.person('W01', 'not JSON')
    expect(house.told.filter(line => line.includes('could not be answered: a say is JSON'))).toHaveLength(1)
    expect(house.broker.log.filter(({ topic }) => topic.includes('/heard/'))).toEqual([])
  })
})
