import { describe, expect, it } from 'vitest'
import { parseStory, type StoryNote } from '../../src/protocol/story.ts'
import { BenchHouse, HOUSE, registerOf } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const topic = (mark: string) => `ropewalk/tally/story/${mark}`
const storyOf = (house: BenchHouse, mark = 'W01'): StoryNote | undefined =>
  parseStory(house.broker.text(topic(mark)) ?? '')
const toldOf = (house: BenchHouse, mark = 'W01') => house.broker.log.filter(each => each.topic === topic(mark))

describe('a story', () => {
  it('follows once what changed it has settled, and one opening is told once', async () => {
    const house = new BenchHouse()
    await house.start()
    expect(storyOf(house)).toMatchObject({ mark: 'W01', openings: [], cells: [] })
    const from = toldOf(house).length
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(1)
    await house.say('ropewalk/w01', 'asleep')
    await house.clock.pass(1)
    expect(toldOf(house)).toHaveLength(from)
    await house.clock.pass(2)
    expect(toldOf(house)).toHaveLength(from + 1)
    expect(storyOf(house)?.openings).toEqual([['2026-06-01T08:00:00.010Z']])
    expect(storyOf(house)?.months.at(-1)).toMatchObject({ month: '2026-06', openings: 1 })
    await house.clock.pass(120)
    expect(toldOf(house)).toHaveLength(from + 1)
  })

  it('tells of what a person saw, and what was taken back is not in it', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    await house.person('W01', { id: 'a1', what: 'seen-closed' })
    await house.clock.pass(5)
    expect(storyOf(house)?.openings[0]).toEqual(['2026-06-01T08:00:00.010Z', null, '2026-06-01T08:01:00.010Z'])
    await house.person('W01', { id: 'a2', what: 'undone', undoes: 'a1' })
    await house.clock.pass(5)
    expect(storyOf(house)?.openings[0]).toEqual(['2026-06-01T08:00:00.010Z'])
  })

  it('goes on with the month while nothing happens', async () => {
    const house = new BenchHouse('2026-06-30T12:00:00.000Z')
    await house.start()
    const months = () => storyOf(house)?.months.slice(-2)
    expect(months()?.map(({ listened }) => listened)).toEqual([0, 0])
    await house.clock.pass(13 * 3_600)
    expect(months()).toEqual([
      { month: '2026-06', openings: 0, listened: 0.01 },
      { month: '2026-07', openings: 0, listened: 0 },
    ])
  })

  it('after a restart is the one before it, and says what nobody listened to, over further restarts too', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    await house.keeper.stop()
    house.kill()
    house.broker.sessions.clear()
    await house.clock.pass(3 * 3_600)
    await house.start()
    await house.clock.pass(60)
    const story = storyOf(house)!
    expect(story.openings).toEqual([['2026-06-01T08:00:00.010Z']])
    const [, gap] = story.unheard ?? []
    expect(gap?.[0]).toMatch(/^2026-06-01T08:0[01]/)
    expect(gap?.[1]).toMatch(/^2026-06-01T11:01/)
    await house.keeper.stop()
    house.kill()
    await house.start()
    await house.clock.pass(5)
    expect(storyOf(house)?.unheard?.[1]).toEqual(gap)
  })

  it.each([
    ['lacks', "delete from facts where name = 'deaf'"],
    ['holds nonsense for', "update facts set value = '[7]' where name = 'deaf'"],
  ])('of a store that %s the times unheard tells all before as unheard, and what comes as heard', async (_, sql) => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(3 * 3_600)
    await house.keeper.stop()
    expect(storyOf(house)?.unheard).toEqual([['2025-05-31T23:00:00.000Z', '2026-06-01T08:00:00.000Z']])
    house.sql.exec(sql)
    house.kill()
    const again = async () => {
      await house.start()
      await house.clock.pass(3 * 3_600)
      const { unheard, months } = storyOf(house)!
      await house.keeper.stop()
      house.kill()
      return [unheard, months.at(-1)?.listened]
    }
    const unheard = [['2025-05-31T23:00:00.000Z', expect.stringMatching(/^2026-06-01T11:00:00/)]]
    expect(await again()).toEqual([unheard, 0])
    expect(await again()).toEqual([unheard, 0])
    await house.start()
    await house.clock.pass(9 * 24 * 3_600)
    expect(storyOf(house)?.months.at(-1)?.listened).toBe(0.3)
  })

  it('of a store that is new or had no gap tells none after a restart', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    house.kill()
    await house.start()
    await house.clock.pass(60)
    expect(storyOf(house)?.unheard).toEqual([['2025-05-31T23:00:00.000Z', '2026-06-01T08:00:00.000Z']])
  })

  it('leaves with its opening', async () => {
    const house = new BenchHouse()
    await house.start()
    house.keeper.adopt(registerOf(HOUSE.replace(/.*mark: W02.*\n/, '')))
    await settle()
    expect(house.broker.text(topic('W02'))).toBeUndefined()
    expect(storyOf(house)).toBeDefined()
  })

  it('that somebody else publishes is set right at the next link', async () => {
    const house = new BenchHouse()
    await house.start()
    const before = house.broker.text(topic('W01'))
    await house.say(topic('W01'), '{}', { retain: true })
    await house.keeper.stop()
    house.kill()
    await house.start()
    expect(house.broker.text(topic('W01'))).toBe(before)
  })
})
