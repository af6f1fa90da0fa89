import { expect } from 'chai'
import { EVENING } from './fixtures.ts'
import { HOUSE, until, wall } from './wall.ts'

describe('the family’s acts', () => {
  it('“I looked, it is shut” on one row, and back', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear('ropewalk/w02', 'opened')
    w.row('W01').click()
    await w.drawn()
    await w.press('I looked, it is shut')
    expect(w.says('W01')).to.equal('seen shut 21:47')
    expect(w.text('.headline')).to.equal('1 may be open')
    await w.press('Take back')
    expect(w.says('W01')).to.match(/^open/)
    expect(w.text('.headline')).to.equal('2 may be open')
    expect(w.text('.deed')).to.equal('Taken back.')
  })

  it('a story offers its own act alone: another opening’s cannot be taken for it', async () => {
    const w = await wall()
    await w.leaveOpen('w01')
    expect(w.all('.great-act')).to.deep.equal(['I looked, it is shut W01.'])
    w.row('W02').click()
    await w.drawn()
    await w.press('I looked, it is shut')
    expect(w.says('W02')).to.match(/seen shut 21:47/)
    expect(w.text('.headline')).to.equal('1 may be open')
    await w.press('Back to the house')
    await w.press('I looked, it is shut')
    expect(w.text('.headline')).to.match(/^None heard open/)
  })

  it('on all at once, and back', async () => {
    const w = await wall()
    await w.leaveOpen('w01', 'w02', 'w03')
    await w.press('I looked, these 3 are shut')
    expect(w.text('.headline')).to.match(/^None heard open/)
    expect(w.text('.deed')).to.match(/^3 seen shut, noted/)
    await w.press('Take back')
    expect(w.text('.headline')).to.equal('3 may be open')
  })

  it('the last look round lists only what may be open, the top floor first, and ticks', async () => {
    const w = await wall()
    await w.leaveOpen('w01', 'w02', 'w03')
    await w.press('Last look round')
    expect(w.all('.last-look h3')).to.deep.equal(['Floor 1', 'Ground floor'])
    expect(w.all('.floors .ticks .tag')).to.deep.equal(['W03', 'W01', 'W02'])
    expect(w.text('.uncertain summary')).to.equal('1 more is not certain: look at it too')
    await w.press('I looked, all 2 are shut here')
    expect(w.text('.headline')).to.equal('1 may be open')
    expect(w.all('.floors .ticks .tag'), 'what was ticked stays on the list').to.deep.equal(['W03', 'W01', 'W02'])
    await w.press('It is shut')
    expect(w.text('.last-look'), 'one is not certain').to.not.include('All ticked.')
    await w.press('Take back')
    expect(w.text('.headline')).to.equal('1 may be open')
  })

  it('the last look round lets one say of what is not certain too that it is shut', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.press('Last look round')
    expect(w.all('.uncertain .tag')).to.deep.equal(['W02', 'W03', 'D01'])
    const button = w.root.querySelector('.uncertain .tick-act') as HTMLButtonElement
    expect(button.ariaLabel).to.match(/^I looked, it is shut: W02/)
    button.click()
    await w.drawn()
    expect(w.says('W02')).to.match(/seen shut 21:47/)
    // It stays where it was: a second tap at the same place falls on nothing else.
    expect(w.all('.uncertain .tag')).to.deep.equal(['W02', 'W03', 'D01'])
    expect(w.all('.uncertain .done .tag')).to.deep.equal(['W02'])
    expect(w.all('.floors .ticks .tag')).to.deep.equal(['W01'])
    expect(w.text('.uncertain summary')).to.match(/^2 more are not certain/)
    await w.press('Take back')
    expect(w.text('.uncertain summary')).to.match(/^3 more are not certain/)
    expect(w.all('.uncertain .done')).to.deep.equal([])
  })

  it('the second tap of two says nothing: what it falls on stood elsewhere at the first', async () => {
    const w = await wall()
    await w.leaveOpen('w01')
    w.row('W01').click()
    await w.drawn()
    const tap = (selector: string, detail: number) =>
      w.root
        .querySelector(selector)!
        .dispatchEvent(new MouseEvent('click', { detail, bubbles: true, composed: true, cancelable: true }))
    tap('.story-acts .great-act', 1)
    await w.drawn()
    tap('.cell-box .act', 2)
    await w.drawn()
    expect(w.text('.look-box .deed')).to.match(/^W01 seen shut, noted/)
    tap('.cell-box .act', 1)
    await w.drawn()
    expect(w.text('.look-box .deed')).to.match(/^W01 seen shut, noted/)
    expect(w.text('.cell-box .deed')).to.match(/^W01: new cell, noted/)
    // Back at the house the great act comes back under the finger.
    await w.leaveOpen('w02')
    await w.press('Back to the house')
    tap('.acts .great-act', 2)
    await w.drawn()
    expect(w.text('.headline')).to.equal('1 may be open')
    tap('.acts [data-way="last-look"]', 1)
    await w.drawn()
    tap('.acts [data-way="last-look"]', 2)
    await w.drawn()
    expect(w.root.querySelector('.last-look') === null, 'nor does it undo the first').to.equal(false)
  })

  it('what is pressed twice is said once, and can be taken back', async () => {
    const w = await wall()
    w.row('W01').click()
    await w.drawn()
    await w.press('I fitted a new cell')
    // A touch screen may tell no second tap as such.
    await w.press('I fitted a new cell')
    await w.press('Take back')
    expect(w.text('.deed')).to.equal('Taken back.')
    expect(w.stage.memory.entries.filter(({ what }) => what === 'cell-fitted').length).to.equal(1)
    await w.press('I fitted a new cell')
    expect(w.text('.deed'), 'once more is another').to.match(/^W01: new cell, noted/)
    expect(w.stage.memory.entries.filter(({ what }) => what === 'cell-fitted').length).to.equal(2)
  })

  it('what was ticked is to be looked at again after a time in which nobody listened', async () => {
    const w = await wall({ attributes: { view: 'last-look' } })
    await w.hear('ropewalk/w01', 'opened')
    await w.press('It is shut')
    expect(w.all('.floors .ticks .done .tag')).to.deep.equal(['W01'])
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(300_000)
    w.stage.live()
    await w.drawn()
    expect(w.says('W01')).to.match(/nobody listened/)
    expect(w.all('.floors .ticks .done .tag')).to.deep.equal([])
    expect(w.all('.floors .ticks .tick-act')).to.deep.equal(['It is shut'])
    await w.press('It is shut')
    expect(w.all('.floors .ticks .done .tag'), 'it stays in its place').to.deep.equal(['W01'])
    // A wall that always shows this list begins anew as well.
    await w.pass(11 * 60_000)
    expect(w.all('.floors .ticks .tag')).to.deep.equal([])
  })

  it('an Enter that is held down ticks one opening only', async () => {
    const w = await wall()
    await w.leaveOpen('w01')
    const held = (repeat: boolean) =>
      new KeyboardEvent('keydown', { key: 'Enter', repeat, bubbles: true, composed: true, cancelable: true })
    const act = w.root.querySelector('.great-act')!
    expect(act.dispatchEvent(held(false)), 'the first presses it').to.equal(true)
    expect(act.dispatchEvent(held(true)), 'the next are taken away').to.equal(false)
  })

  it('while you were out tells what opened since a time, and when nobody listened', async () => {
    const w = await wall({ now: EVENING - 3 * 3_600_000 })
    await w.hear('ropewalk/w01', 'opened')
    w.stage.now += 2.5 * 3_600_000
    await w.hear('ropewalk/d01', 'ajar')
    await w.hear('ropewalk/d01', 'shut')
    w.stage.now += 60_000
    await w.hear('ropewalk/d01', 'ajar')
    await w.pass(60_000)
    await w.press('While you were out')
    expect(w.all('.while-out .tick .tag')).to.deep.equal(['D01', 'W01'])
    expect(w.all('.while-out .tick .say')[0]).to.match(/^opened at least 2 times, last 21:1/)
    expect(w.text('.while-out .warn')).to.equal('Nobody listened from 09:19 to 18:47: openings may be missing.')
    await w.press('the last hour')
    expect(w.all('.while-out .tick .tag')).to.deep.equal(['D01'])
    expect(w.all('.while-out .tick .say')[0]).to.match(/^opened 2 times, last 21:1/)
    expect(w.root.querySelector('.while-out .warn')).to.equal(null)
  })

  it('while you were out begins half a day ago, also where it is what the wall shows, and anew once it has been left', async () => {
    const w = await wall({ attributes: { view: 'while-out' } })
    expect(w.text('.while-out h2')).to.equal('While you were out: what opened since 09:47')
    const house = await wall()
    await house.press('While you were out')
    await house.press('Back to the house')
    await house.pass(9 * 3_600_000)
    await house.press('While you were out')
    expect(house.text('.while-out h2')).to.equal('While you were out: what opened since Wed 18:47')
  })

  it('who leaves a story by a key comes back to where it was opened', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.press('While you were out')
    w.button('More about W01').focus()
    await w.press('More about W01')
    expect(w.root.activeElement?.id).to.equal('story-title')
    w.root.activeElement!.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape', bubbles: true, composed: true }))
    await w.drawn()
    expect(w.root.activeElement?.textContent?.trim()).to.equal('More about W01')
  })

  it('the round shows its cost first, ticks each opening as it is heard live, and keeps its report', async () => {
    const w = await wall()
    await w.press('Walk and test')
    expect(w.text('.before .say')).to.equal('This walk costs 3 cells one message each.')
    await w.press('Start the walk')
    expect(w.all('.round .tick .tag')).to.deep.equal(['W01', 'W02', 'D01', 'W03'])
    await w.hear('ropewalk/w01', 'opened', { retain: true })
    expect(w.text('.round .panel-head .say')).to.equal('0 of 4 heard')
    await w.hear('ropewalk/w02', 'opened')
    expect(w.text('.round .panel-head .say')).to.equal('1 of 4 heard')
    expect(w.all('.round .done .tag')).to.deep.equal(['W02'])
    await w.press('End the walk')
    await until('the report', () => w.text('.round').includes('Walk of 21:47'))
    expect(w.text('.round')).to.include('1 of 4 heard')
    expect(w.all('.round .warn')).to.deep.equal(['not heard: W01', 'no word, or not reached: D01, W03'])
    expect(w.text('.round .kept')).to.include('Open these once more.')
    expect(w.text('.round .kept')).to.not.include('Nothing at all was heard')
    await until('the entries', () => w.stage.memory.entries.filter(entry => entry.what === 'round').length === 4)
    const heard = w.stage.memory.entries.filter(entry => entry.text === 'heard')
    expect(heard.map(entry => entry.mark)).to.deep.equal(['W02'])
  })

  it('what somebody walks past is left out, and the next one is named', async () => {
    const w = await wall()
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.press('Leave W01 out')
    expect(w.all('.round .tick .say')[0]).to.match(/^left out · /)
    expect(w.all('.round .next .tag')).to.deep.equal(['W02'])
    expect(w.button('Leave W02 out').closest('.acts')).to.not.equal(null)
  })

  it('what was opened without a word is passed on the round, and stands apart in its report', async () => {
    const w = await wall()
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.press('Opened, no word came')
    await until('the mark', () => w.all('.round .tick .say')[0]?.startsWith('Opened, no word came'))
    expect(w.all('.round .next .tag')).to.deep.equal(['W02'])
    await w.press('Take back')
    await until('the way back', () => w.all('.round .next .tag')[0] === 'W01')
    await w.press('Opened, no word came')
    await w.hear('ropewalk/w02', 'opened')
    await w.press('End the walk')
    await until('the report', () => w.text('.round').includes('Walk of 21:47'))
    expect(w.all('.round .warn')).to.deep.equal(['Opened, no word came: W01', 'no word, or not reached: D01, W03'])
    expect(w.root.querySelector('.choice') === null, 'nothing has opened since').to.equal(true)
    await w.press('Take back')
    const without = 'not heard: W01;no word, or not reached: D01, W03'
    await until('the report without it', () => w.all('.round .warn').join(';') === without)
  })

  it('a walk on which no word came says so, and calls nothing untried that may have been opened', async () => {
    const w = await wall()
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.press('End the walk')
    await until('the report', () => w.text('.round').includes('Walk of 21:47'))
    expect(w.all('.round .warn')).to.deep.equal(['no word, or not reached: W01, W02, D01, W03'])
    expect(w.text('.round .kept')).to.match(/Nothing at all was heard\..*Open these once more\./s)
  })

  it('a round under way goes on after a reload, and is gone once it has ended', async () => {
    const w = await wall()
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.hear('ropewalk/w02', 'opened')
    w.card.remove()
    const again = await wall({ stage: w.stage })
    await until('the walk', () => again.text('.round .panel-head .say') === '1 of 4 heard')
    expect(again.all('.round .done .tag')).to.deep.equal(['W02'])
    await again.hear('ropewalk/w03', 'opened')
    expect(again.text('.round .panel-head .say')).to.equal('2 of 4 heard')
    await again.press('End the walk')
    await until('the entries', () => w.stage.memory.entries.filter(entry => entry.what === 'round').length === 4)
    again.card.remove()
    const later = await wall({ stage: w.stage })
    expect(later.root.querySelector('.round')).to.equal(null)
    await later.press('Walk and test')
    expect(later.text('.round')).to.include('Walk of 21:47')
  })

  it('a kept walk that names what the house has not, or is no walk, is left', async () => {
    for (const kept of [
      '{',
      '{"steps":[{"mark":"X9","name":"Loft"}],"startedAt":"2026-11-25T21:00:00Z"}',
      '{"steps":3}',
    ]) {
      const before = await wall()
      before.card.remove()
      sessionStorage.setItem('sashtally round ropewalk/tally ws://127.0.0.1:9001', kept)
      const w = await wall({ stage: before.stage })
      expect(w.root.querySelector('.round')).to.equal(null)
    }
  })

  it('a new cell starts a new count, and can be taken back', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.figures')).to.include('1 message from this cell')
    await w.press('I fitted a new cell')
    expect(w.text('.figures')).to.include('0 messages from this cell')
    expect(w.text('.deed')).to.match(/^W01: new cell, noted/)
    await w.press('Take back')
    expect(w.text('.figures')).to.include('1 message from this cell')
  })

  it('Escape leads back to the house, and the focus to the row', async () => {
    const w = await wall()
    w.row('W01').click()
    await w.drawn()
    expect(w.root.activeElement?.id).to.equal('story-title')
    w.card.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }))
    await w.drawn()
    expect(w.root.querySelector('.story')).to.equal(null)
    expect((w.root.activeElement as HTMLElement).dataset.mark).to.equal('W01')
  })

  it('Enter on an opening of the drawing tells its story', async () => {
    const w = await wall()
    const shape = await until('the drawing', () => w.root.querySelector('g.opening[data-mark="W02"]'))
    shape.dispatchEvent(new KeyboardEvent('keydown', { key: 'Enter', bubbles: true }))
    await w.drawn()
    expect(w.text('.story h2')).to.equal('Dye room, south')
  })

  it('an untouched sheet goes back to the house after ten minutes', async () => {
    const w = await wall()
    await w.press('Last look round')
    await w.pass(9 * 60_000)
    expect(w.root.querySelector('.last-look')).to.not.equal(null)
    await w.pass(2 * 60_000)
    expect(w.root.querySelector('.last-look')).to.equal(null)
  })

  it('an untouched sheet is put back: the order, the page, what was folded open, and unscrolled', async () => {
    const w = await wall({ size: [360, 400] })
    const select = w.root.querySelector('select')!
    select.value = 'mark'
    select.dispatchEvent(new Event('change', { bubbles: true, composed: true }))
    await w.drawn()
    expect(w.marks()).to.deep.equal(['D01', 'W01', 'W02', 'W03'])
    const sheet = w.root.querySelector('.sheet')!
    sheet.scrollTop = 200
    expect(sheet.scrollTop).to.be.greaterThan(0)
    w.root.querySelector('.strip details')!.setAttribute('open', '')
    await w.hear('ropewalk/w03', 'opened')
    await w.pass(11 * 60_000)
    expect(w.marks()[0]).to.equal('W03')
    expect(sheet.scrollTop).to.equal(0)
    expect(w.root.querySelector('.strip details[open]')).to.equal(null)
    // Who comes back and scrolls is left alone.
    w.card.dispatchEvent(new WheelEvent('wheel', { bubbles: true, composed: true }))
    sheet.scrollTop = 200
    await w.pass(60_000)
    expect(sheet.scrollTop).to.be.greaterThan(0)
  })

  it('the schedule is sorted as chosen, and searched as typed above 30 rows', async () => {
    const many = Array.from(
      { length: 31 },
      (_, n) => `  - { mark: X${n}, name: 'Loft ${n}', room: R${30 - n}, sender: coin }`,
    )
    const w = await wall({ register: HOUSE + many.join('\n') })
    const select = w.root.querySelector('select')!
    select.value = 'mark'
    select.dispatchEvent(new Event('change'))
    await w.drawn()
    expect(w.marks().slice(0, 4)).to.deep.equal(['D01', 'W01', 'W02', 'W03'])
    expect(w.marks().slice(4, 7)).to.deep.equal(['X0', 'X1', 'X2'])
    select.value = 'room'
    select.dispatchEvent(new Event('change'))
    await w.drawn()
    expect(w.marks().slice(-1)).to.deep.equal(['X0'])
    const search = w.root.querySelector<HTMLInputElement>('.search')!
    search.value = 'x17'
    search.dispatchEvent(new Event('input'))
    await w.drawn()
    expect(w.marks()).to.deep.equal(['X17'])
    search.value = 'nowhere <b>'
    search.dispatchEvent(new Event('input'))
    await w.drawn()
    expect(w.text('.schedule')).to.include('Nothing in the schedule matches “nowhere <b>”.')
  })
})
