import { expect } from 'chai'
import { NotTaken } from '../../src/protocol/feed.ts'
import { EVENING } from './fixtures.ts'
import { until, type Wall, wall } from './wall.ts'

const HOUR = 3_600_000
const TALLY = 'ropewalk/tally'
const MAY_SAY = { attributes: { 'may-say': '' } } as const
const iso = (at: number) => new Date(at).toISOString()
const keeper = (w: Wall, state = 'live', more = {}) =>
  JSON.stringify({ v: 1, state, beat: iso(w.stage.now), since: iso(EVENING - 24 * HOUR), ...more })
const reading = (mark: string, position: string, more = {}) =>
  JSON.stringify({
    ...{ v: 1, mark, name: 'Attic', position, since: iso(EVENING - HOUR), doubts: [] },
    ...{ openings: 7, sends: 7, asOf: iso(EVENING), ...more },
  })

/** What the broker keeps of a house with a keeper, as a page that was just loaded gets it: no beat has come yet. */
async function loaded(w: Wall, state = 'live') {
  for (const mark of ['W01', 'W02', 'W03'])
    await w.hear(`${TALLY}/opening/${mark}`, reading(mark, 'opened'), { retain: true })
  await w.hear(`${TALLY}/opening/D01`, reading('D01', 'closed'), { retain: true })
  await w.hear(`${TALLY}/keeper`, keeper(w, state), { retain: true })
}
const said = (w: Wall) => w.stage.feed.published.map(({ payload }) => JSON.parse(payload))
async function answer(w: Wall, nth: number, more: object) {
  const { id } = await until('the say', () => said(w)[nth])
  await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ...more }))
}

describe('before the first beat', () => {
  it('an act goes out, and its answer decides', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w)
    await w.press('I looked, these 3 are shut')
    expect(said(w).map(({ what }) => what)).to.deep.equal(['seen-closed', 'seen-closed', 'seen-closed'])
    expect(w.text('.house-box')).to.include('Telling the keeper')
    for (const nth of [0, 1, 2]) await answer(w, nth, { ok: true })
    expect(w.text('.house-box')).to.include('3 seen shut, noted 21:47')
  })

  it('an answer is a sign of life: what the keeper said is shown as live from then on', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w)
    expect(w.text('.bands')).to.match(/its next beat is awaited/)
    await w.press('I looked, these 3 are shut')
    await answer(w, 0, { ok: true })
    expect(w.text('.bands')).to.not.match(/awaited/)
  })

  it('of a keeper that is known to be gone nothing can be said', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w, 'gone')
    expect(w.text('.house-box')).to.include('Not possible now: the keeper is not heard.')
    await w.pass(60_000)
    expect(said(w)).to.deep.equal([])
  })

  it('nor of one that has not been heard in its time', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w)
    await w.pass(60_000)
    expect(w.text('.house-box')).to.include('Not possible now')
  })
})

describe('a walk', () => {
  const walk = async (w: Wall) => {
    await w.press('Walk and test')
    await w.press('Start the walk')
  }

  it('that is ended soon after a reload leaves its report with the keeper', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w)
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await walk(w)
    const again = await wall({ ...MAY_SAY, stage: w.stage })
    await loaded(again)
    await again.press('End the walk')
    expect(said(again).filter(({ what }) => what === 'round').length).to.be.greaterThan(0)
  })

  it('is not ended while the keeper cannot be told, and says so', async () => {
    const w = await wall(MAY_SAY)
    await loaded(w)
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await walk(w)
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    await w.press('End the walk')
    expect(w.text('.round .next-card .tag')).to.not.equal('')
    expect(w.text('.strip')).to.include('Not possible now: the keeper is not heard.')
    expect(said(w).filter(({ what }) => what === 'round')).to.deep.equal([])
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.text('.strip')).to.not.include('Not possible now')
    await w.press('End the walk')
    expect(said(w).filter(({ what }) => what === 'round').length).to.be.greaterThan(0)
    expect(w.root.querySelector('.round .next-card')).to.equal(null)
  })
})

describe('what the broker does not take', () => {
  async function refusing(error: Error) {
    const w = await wall(MAY_SAY)
    await loaded(w)
    await w.hear(`${TALLY}/keeper`, keeper(w))
    w.stage.feed.publish = async () => {
      throw error
    }
    await w.press('I looked, these 3 are shut')
    await until('what came of it', () => !w.text('.house-box').includes('Telling'))
    return w.text('.house-box')
  }

  it('for this account is said, with the account that it takes', async () => {
    const forbidden = new NotTaken('the broker did not take it: it does not let this account publish there', true)
    const text = await refusing(forbidden)
    expect(text).to.include('This wall’s account may not say it: that takes the account “hand”.')
    expect(text).to.not.include('may still be noted')
  })

  it('for another reason is told with it', async () => {
    const text = await refusing(new NotTaken('the broker did not take it: a quota is used up', false))
    expect(text).to.include('may still be noted')
    expect(text).to.include('a quota is used up')
  })
})

it('what was noted does not stand beside an opening that was opened again', async () => {
  const w = await wall()
  await w.leaveOpen('w02')
  await w.press('I looked, it is shut')
  expect(w.text('.house-box')).to.include('W02 seen shut, noted')
  await w.pass(60_000)
  await w.leaveOpen('w02')
  expect(w.text('.house-box')).to.not.include('seen shut, noted')
  expect(w.text('.house-box')).to.include('I looked, it is shut')
})
