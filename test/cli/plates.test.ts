import { expect, test } from 'vitest'
import { jobsOf } from '../../src/card/select/jobs.ts'
import type { CardOpening } from '../../src/card/state/house.ts'
import { Plates } from '../../src/cli/houses/plates.ts'
import type { KeptHouse } from '../../src/keeper/houses/kept-house.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { registerOf } from '../keeper/bench-house.ts'

const NOW = Date.UTC(2026, 10, 30, 8)
const register = registerOf()
const mark = register.openings[0]!.mark
const readingsOf = (position: Reading['position']): ReadonlyMap<string, Reading> =>
  new Map([[mark, { mark, position, doubts: [], openings: 1, sends: 1, asOf: '2026-11-30T08:00:00.000Z' } as Reading]])

/** A house at work, as far as its plate asks it. */
const house = (name: string, readings: () => ReadonlyMap<string, Reading>): KeptHouse => {
  const vitals = { isSettled: true, isKeeping: true, hasProblem: false, beat: { at: NOW, ageMilliseconds: 0 } }
  const keeper = { latest: () => ({ register, readings: readings() }), vitals: () => vitals }
  return { name, register, keeper: keeper as unknown as KeptHouse['keeper'], last: undefined, trouble: undefined }
}

test('tells all plates, and after that the ones that changed, in the language that was asked', async () => {
  const [open, shut] = [readingsOf('opened'), readingsOf('closed')]
  let dye = shut
  let now = NOW
  const houses = [house('dye', () => dye), house('rope', () => shut), house('yard', () => shut)]
  const plates = new Plates(
    () => houses,
    () => now,
    false,
  )
  const names = async (after?: string, lang: 'en' | 'de' = 'en') => {
    const note = await plates.note(lang, after)
    return { ...note, told: note.plates.map(({ at, name, headline }) => `${at} ${name} ${headline}`) }
  }
  const first = await names()
  expect(first.told).toEqual(['0 dye All shut', '1 rope All shut', '2 yard All shut'])
  dye = open
  const second = await names(first.version)
  expect(second.told).toEqual(['0 dye 1 may be open'])
  expect(second.summary).toBe('In 1 house something may be open: dye.')
  expect((await names(first.version)).told).toEqual(second.told)
  now += 60_000
  const third = await names(second.version)
  expect([third.told, third.lost === second.lost, third.frame]).toEqual([[], false, first.frame])
  for (const other of ['', 'nothing', `${first.version}x`.replace('.en.', '.de.'), first.version.replace(/\d+$/, 'x')])
    expect([other, (await names(other)).told.length]).toEqual([other, 3])
  expect((await names(third.version, 'de')).told[0]).toBe('0 dye 1 vielleicht offen')

  houses.splice(1, 1)
  const fewer = await names(third.version)
  expect([fewer.told, fewer.frame === first.frame]).toEqual([[], false])
})

test('a plate names the cells that the wall names: that nobody knows yet whether one works is no job', async () => {
  const left = (alive: number) => ({
    ...{ p05: 10, p50: 20, p95: 30, next: alive, alive },
    restsOn: 'practice',
    changeBy: '2026-12-20',
  })
  for (const [more, told] of [
    [{}, /^How much they have left is not known yet\.$/],
    [{ left: left(0.9) }, new RegExp(`^Next cell: ${mark}, .* · by 20 Dec · 20 left `)],
    [{ left: left(0.3) }, new RegExp(`^Next cell: ${mark}, .* · now · `)],
  ] as const) {
    const reading = {
      ...readingsOf('closed').get(mark)!,
      provenAt: '2026-11-01T08:00:00.000Z',
      doubts: ['overdue'],
      ...more,
    }
    const { due } = jobsOf([{ opening: { mark, power: 'cell' } as CardOpening, reading: reading as Reading }], NOW)
    const plates = new Plates(
      () => [house('dye', () => new Map([[mark, reading as Reading]]))],
      () => NOW,
      false,
    )
    const [plate] = (await plates.note('en')).plates
    expect([more, plate?.cell, due.length]).toEqual([
      more,
      expect.stringMatching(told),
      /^Next/.test(plate!.cell) ? 1 : 0,
    ])
  }
})

test('many houses are looked at in turns: what comes from outside is not kept waiting for all of them', async () => {
  const readings = readingsOf('closed')
  const slowly = () => {
    const end = performance.now() + 2
    while (performance.now() < end);
    return readings
  }
  const houses = Array.from({ length: 100 }, (_, n) => house(`h${n}`, slowly))
  const plates = new Plates(
    () => houses,
    () => NOW,
    false,
  )
  let turns = 0
  let isOver = false
  const count = (): void => {
    turns++
    if (!isOver) setImmediate(count)
  }
  count()
  const { plates: all } = await plates.note('en')
  isOver = true
  expect(all).toHaveLength(100)
  // Of 10 ms each.
  expect(turns).toBeGreaterThanOrEqual(10)
})

test('what was known of one tally is not told of another that the register names now', async () => {
  const { keeper, ...kept } = house('north', () => readingsOf('opened'))
  const other = { ...register, house: 'Another house', tally: 'another/tally' }
  const last = { register, readings: readingsOf('opened'), beatAt: NOW }
  const plateOf = async (more: Partial<KeptHouse>) => {
    const all = [{ ...kept, keeper: undefined, last, ...more }]
    const plates = new Plates(
      () => all,
      () => NOW,
      false,
    )
    const [plate] = (await plates.note('en')).plates
    return [plate?.title, plate?.headline, plate?.keeper]
  }
  expect(await plateOf({})).toEqual([register.house, '1 may be open', 'Keeper last heard 08:00.'])
  // The keeper of the tally before may not have ended yet.
  for (const more of [{}, { keeper }])
    expect((await plateOf({ register: other, ...more })).slice(0, 2)).toEqual(['Another house', 'Nothing known'])
  expect((await plateOf({ register: other }))[2]).toBe('Keeper not heard yet.')
})

test.each([
  ['en', undefined, 'Keeper not heard yet. It begins.'],
  ['en', 'clash', 'Keeper not heard yet. The list of this house uses a name that another house has already.'],
  [
    'de',
    'clash',
    'Zähldienst noch nicht gehört. Die Liste des Hauses nennt einen Namen, den schon ein anderes Haus hat.',
  ],
  ['de', 'link-refused', 'Zähldienst noch nicht gehört. Der Broker lässt ihn nicht ein.'],
] as const)('in %s a house that is not at work because of %s says so in whole sentences', async (lang, code, said) => {
  const trouble = code && { code, text: 'etc/houses/dye.yaml:4 and etc/houses/rope.yaml:4 both have the tally' }
  const plates = new Plates(
    () => [{ name: 'dye', register, keeper: undefined, last: undefined, trouble }],
    () => NOW,
    true,
  )
  const [plate] = (await plates.note(lang)).plates
  expect(`${plate?.keeper} ${plate?.problem}`).toBe(said)
})

test('for a day the line on top names a house that is kept no more, beside what it says of the others', async () => {
  let now = NOW
  const houses = [house('dye', () => readingsOf('closed'))]
  const gone = [{ name: 'loom', register, at: NOW }]
  const plates = new Plates(
    () => houses,
    () => now,
    false,
    () => gone,
  )
  const summary = async (lang: 'en' | 'de') => (await plates.note(lang)).summary
  expect(await summary('en')).toBe('All shut. Kept no more: loom since 08:00.')
  expect(await summary('de')).toBe('Alles zu. Nicht mehr dabei: loom seit 08:00.')
  now += 86_399_999
  expect(await summary('en')).toMatch(/^All shut\. Kept no more: loom since .*08:00\.$/)
  now += 1
  expect(await summary('en')).toBe('All shut.')
  now = NOW
  houses.pop()
  expect(await summary('en')).toMatch(/^No house yet.* Kept no more: loom since 08:00\.$/)
})
