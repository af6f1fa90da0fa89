import { expect } from 'chai'
import { type Wall, wall } from './wall.ts'

/** Sentences that a family takes for "go to bed". */
const ALL_CLEAR = /Nothing to look at|0 still to look at|All ticked|Nothing to say|All shut/

const isSaid = (w: Wall) => ALL_CLEAR.test(w.text('.frame'))

describe('nothing reads as an all-clear', () => {
  it('where something is not certain: the family’s box leads there', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    expect(w.text('.headline')).to.equal('None heard open, 3 not certain')
    expect(isSaid(w)).to.equal(false)
    await w.press('3 not certain: look there')
    expect(w.text('.leave-box')).to.equal('3 not certain')
    expect(w.all('.uncertain .tick-act').length, 'ready to be ticked').to.equal(3)
    expect(w.root.querySelector('.uncertain')!.hasAttribute('open')).to.equal(true)
    expect(isSaid(w)).to.equal(false)
  })

  it('where what was seen shut is known no more: not live', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    await w.leaveOpen('w01', 'w02', 'w03')
    await w.press('I looked, these 3 are shut')
    await w.pass(11 * 60_000)
    expect(w.text('.house-box')).to.equal('Nothing to look at')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.text('.house-box')).to.equal('Not live: look for yourself')
    expect(isSaid(w)).to.equal(false)
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.look-box')).to.equal('I looked, it is shut')
    await w.press('Back to the house')
    await w.press('Last look round')
    expect(w.text('.leave-box')).to.equal('Not live: look for yourself')
    expect(isSaid(w)).to.equal(false)
  })
})

it('a walk says over the sheet how far it has come, and beside it what may be open', async () => {
  const w = await wall()
  await w.press('Walk and test')
  await w.press('Start the walk')
  expect(w.text('.headline')).to.equal('0 of 4 heard')
  await w.hear('ropewalk/w01', 'opened')
  await w.press('Opened, no word came')
  expect(w.text('.headline')).to.equal('1 of 4 heard')
  expect(w.all('.counts li')).to.deep.equal(['1 no word came', '1 may be open'])
  await w.press('Back to the house')
  expect(w.text('.headline')).to.equal('1 may be open')
})
