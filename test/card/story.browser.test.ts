import { expect } from 'chai'
import { EVENING } from './fixtures.ts'
import { type Wall, wall } from './wall.ts'

const HOUR = 3_600_000
const TALLY = 'ropewalk/tally'
const iso = (at: number) => new Date(at).toISOString()
const keeper = (w: Wall, state = 'live') =>
  JSON.stringify({ v: 1, state, beat: iso(w.stage.now), since: iso(EVENING - 24 * HOUR) })
const reading = (mark: string, position: string, more = {}) =>
  JSON.stringify({
    ...{ v: 1, mark, name: 'Attic', position, doubts: [], openings: 16, sends: 16, asOf: iso(EVENING) },
    ...more,
  })
/** The evening is that of 25 November 2026. */
const months = Array.from({ length: 13 }, (_, n) => ({
  month: iso(Date.UTC(2025, 10 + n, 1)).slice(0, 7),
  openings: n === 12 ? 4 : 1,
  listened: n === 12 ? 0.83 : n === 3 ? 0.4 : 1,
}))
const story = (mark: string, openings: readonly unknown[], more = {}) =>
  JSON.stringify({
    v: 1,
    mark,
    months,
    openings,
    cells: [{ fitted: iso(EVENING - 90 * 24 * HOUR), sends: 16 }],
    ...more,
  })

const labels = (w: Wall) => [...w.root.querySelectorAll('.figures svg')].map(each => each.getAttribute('aria-label'))
const hatches = (w: Wall, nth: number) =>
  w.root.querySelectorAll('.figures svg')[nth]?.querySelector('.expected')?.getAttribute('d') ?? ''

async function tell(w: Wall, mark = 'W01') {
  w.row(mark).click()
  await w.drawn()
}

/** A keeper that has kept the house for a year, as the broker hands it to a wall that comes. */
async function kept(w: Wall, openings: readonly unknown[], more = {}) {
  for (const mark of ['W01', 'W02', 'W03', 'D01'])
    await w.hear(`${TALLY}/opening/${mark}`, reading(mark, 'closed'), { retain: true })
  await w.hear(`${TALLY}/story/W01`, story('W01', openings, more), { retain: true })
  await w.hear(`${TALLY}/keeper`, keeper(w))
}

describe('the story of an opening', () => {
  it('is the keeper’s on a wall that has just been hung up: today and thirteen months', async () => {
    const w = await wall({ afterGap: true })
    await kept(w, [[iso(EVENING - 6 * HOUR), null, iso(EVENING - 5 * HOUR)], [iso(EVENING - 3 * HOUR)]])
    await tell(w)
    expect(labels(w).slice(0, 2)).to.deep.equal(['2 openings', '16 openings'])
    expect(hatches(w, 1), 'a month in which nobody listened for a part').to.not.equal('')
    expect(hatches(w, 0)).to.equal('')
    expect(w.text('.figures')).to.include('hatched: nobody listened')
    expect(w.text('.figures')).to.not.include('counted on this tablet')
  })

  it('is the same on a wall that has hung there for long and heard it all', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear('ropewalk/w01', 'asleep')
    await w.pass(60_000)
    await kept(w, [[iso(EVENING - 6 * HOUR), null, iso(EVENING - 5 * HOUR)], [iso(EVENING)]])
    await tell(w)
    expect(labels(w).slice(0, 2)).to.deep.equal(['2 openings', '16 openings'])
  })

  it('is asked for of the broker beside the readings', async () => {
    const w = await wall()
    expect(w.stage.feed.filters).to.include(`${TALLY}/story/+`)
  })

  it('changes as the keeper tells it anew, and goes with an empty payload', async () => {
    const w = await wall()
    await kept(w, [[iso(EVENING - 3 * HOUR)]])
    await tell(w)
    expect(labels(w)[0]).to.equal('1 opening')
    await w.hear(`${TALLY}/story/W01`, story('W01', [[iso(EVENING - 3 * HOUR)], [iso(EVENING - 1 * HOUR)]]))
    expect(labels(w)[0]).to.equal('2 openings')
    await w.hear(`${TALLY}/story/W01`, story('W02', []))
    await w.hear(`${TALLY}/story/W01`, '{"v":1,"mark":"W01"}')
    expect(labels(w)[0], 'of another mark, or none').to.equal('2 openings')
    await w.hear(`${TALLY}/story/W01`, '')
    expect(labels(w)[0]).to.not.equal('2 openings')
  })

  it('of a keeper that fell silent goes on with what this tablet hears itself', async () => {
    const w = await wall()
    await w.hear('ropewalk/w02', 'opened')
    await kept(w, [[iso(EVENING - 3 * HOUR)]])
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    await w.pass(60_000)
    await w.hear('ropewalk/w01', 'opened')
    await w.pass(60_000)
    await tell(w)
    expect(labels(w)[0]).to.equal('2 openings')
  })

  it('of a wall without a keeper is its own, and it says since when', async () => {
    const w = await wall({ afterGap: true })
    await w.hear('ropewalk/w01', 'opened')
    await w.pass(120_000)
    await tell(w)
    expect(labels(w).slice(0, 2)).to.deep.equal(['1 opening', '1 opening'])
    expect(w.text('.figures')).to.match(/counted on this tablet since 21:4/)
    expect(hatches(w, 1), 'the months before it').to.not.equal('')
  })

  it('of a wall without a keeper is hatched where its link was down', async () => {
    const w = await wall()
    await w.pass(60_000)
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(2 * HOUR)
    await w.drawn()
    await tell(w)
    const while_ = hatches(w, 0)
    expect(while_).to.not.equal('')
    w.stage.feed.link({ state: 'live', since: w.stage.now, sessionPresent: false })
    await w.pass(60_000)
    expect(hatches(w, 0)).to.not.equal('')
  })
})

describe('while you were out', () => {
  it('tells each opening of a keeper’s story, on a wall that has just been hung up', async () => {
    const w = await wall({ afterGap: true })
    await kept(w, [[iso(EVENING - 30 * HOUR)], [iso(EVENING - 6 * HOUR)], [iso(EVENING - 3 * HOUR)]])
    await w.press('While you were out')
    expect(w.all('.while-out .tick .say')).to.deep.equal(['opened 2 times, last 18:47'])
    await w.press('the last week')
    expect(w.all('.while-out .tick .say')).to.deep.equal(['opened at least 3 times, last 18:47'])
    expect(w.text('.while-out .warn')).to.equal('')
  })

  it('says when nobody listened, and counts no more than it knows', async () => {
    const w = await wall()
    const unheard = [[iso(EVENING - 8 * HOUR), iso(EVENING - 7 * HOUR)]]
    await kept(w, [[iso(EVENING - 3 * HOUR)]], { unheard })
    for (const mark of ['W02', 'W03', 'D01'])
      await w.hear(`${TALLY}/story/${mark}`, story(mark, [], { unheard }), { retain: true })
    await w.press('While you were out')
    expect(w.text('.while-out .warn')).to.equal('Nobody listened from 13:47 to 14:47: openings may be missing.')
    expect(w.all('.while-out .tick .say')).to.deep.equal(['opened at least once, last 18:47'])
  })
})
