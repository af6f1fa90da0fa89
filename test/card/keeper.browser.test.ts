import { expect } from 'chai'
import { COIN } from '../ledger/notation.ts'
import { EVENING, Stage } from './fixtures.ts'
import { HOUSE, until, type Wall, wall } from './wall.ts'

const iso = (at: number) => new Date(at).toISOString()
const keeper = (w: Wall, state = 'live') =>
  JSON.stringify({ v: 1, state, beat: iso(w.stage.now), since: iso(EVENING - 86_400_000) })
const reading = (w: Wall, position: string, more = {}) =>
  JSON.stringify({
    v: 1,
    mark: 'W01',
    name: 'Dye room, west sash',
    position,
    since: iso(w.stage.now - 3_600_000),
    doubts: [],
    openings: 7,
    sends: 7,
    asOf: iso(w.stage.now),
    ...more,
  })
const TALLY = 'ropewalk/tally'
const REGISTER_NOTE = JSON.stringify({
  v: 1,
  house: 'Ropewalk Studios',
  timezone: 'Europe/Lisbon',
  sides: ['south'],
  floors: 1,
  roof: 'none',
  openings: [
    { mark: 'W01', name: 'Dye room, west sash', kind: 'window', reports: 'openings', cell: 'CR2032', policy: COIN },
  ],
})
const tick = (w: Wall, mark: string) =>
  (w.root.querySelector(`[aria-label^="I looked, it is shut: ${mark}"]`) as HTMLButtonElement).click()
/** The keeper's answer to what was said as the nth. */
async function answer(w: Wall, n: number, more: object): Promise<void> {
  const { payload } = await until('the say', () => w.stage.feed.published[n])
  await w.hear(`${TALLY}/heard/${JSON.parse(payload).id}`, JSON.stringify({ v: 1, ...more }))
}
/** Within it an answer is awaited for a moment only. */
async function impatient(run: () => Promise<void>): Promise<void> {
  const { setTimeout } = window
  window.setTimeout = ((run: () => void, wait?: number) =>
    setTimeout(run, wait === 10_000 ? 20 : wait)) as typeof window.setTimeout
  try {
    await run()
  } finally {
    window.setTimeout = setTimeout
  }
}

describe('with a keeper in the house', () => {
  it('its readings are shown while its beat is live, and said to be its own', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.says('W01')).to.equal('opened 20:47, nobody has seen it shut')
    expect(w.text('.title-block .source')).to.include('from the keeper, last beat now')
  })

  it('a kept keeper state is no beat: what it last said is old until one comes, then this tablet’s own tally is shown', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    for (const mark of ['W01', 'W02', 'W03', 'D01'])
      await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'closed', { mark }), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w), { retain: true })
    expect(w.says('W01')).to.equal('seen shut 20:47')
    expect(w.text('.bands')).to.match(/its next beat is awaited\. Until then this is what it last said, 21:47\.$/)
    expect(w.text('.headline')).to.equal('None heard open when last live')
    await w.pass(60_000)
    expect(w.text('.bands')).to.match(/^The keeper is silent/)
    expect(w.says('W01')).to.match(/^never tried yet/)
    expect(w.text('.headline')).to.not.equal('All shut')
  })

  it('while its beat is awaited nothing is hidden that was heard here since to open', async () => {
    const w = await wall()
    const opened: string[] = []
    w.card.addEventListener('sash-opened', ({ mark }) => opened.push(mark))
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'), { retain: true })
    await w.hear(`${TALLY}/opening/W02`, reading(w, 'opened', { mark: 'W02' }), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w), { retain: true })
    expect(w.text('.headline')).to.equal('1 may be open')
    await w.pass(1_000)
    await w.hear('ropewalk/w01', 'opened')
    expect(w.says('W01')).to.match(/^open since 21:47/)
    expect(w.text('.headline')).to.equal('2 may be open')
    expect(opened).to.deep.equal(['W01'])
    // It works, and says the same.
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened', { asOf: iso(w.stage.now + 10) }))
    expect(w.says('W01')).to.equal('opened 20:47, nobody has seen it shut')
  })

  it('what was heard here while a keeper had stopped unnoticed stays in sight when the link breaks', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.pass(10_000)
    // It stopped without a word: nothing comes of it any more.
    await w.hear('ropewalk/w01', 'opened')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.says('W01')).to.match(/^open/)
    w.stage.live()
    await w.hear('ropewalk/w01', 'asleep', { retain: true })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed', { asOf: iso(EVENING) }), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w), { retain: true })
    expect(w.text('.headline')).to.equal('1 may be open')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(3_600_000)
    expect(w.text('.headline')).to.equal('1 may be open')
  })

  it('a kept word of a door that it is open is not hidden by an older one of the keeper', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'ajar', { retain: true })
    await w.hear(`${TALLY}/opening/D01`, reading(w, 'closed', { mark: 'D01', asOf: iso(w.stage.now + 120_000) }), {
      retain: true,
    })
    await w.hear(`${TALLY}/keeper`, keeper(w), { retain: true })
    expect(w.text('.headline')).to.equal('1 may be open')
    expect(w.says('D01')).to.match(/^open/)
  })

  it('what the keeper last called open stays so when it falls silent', async () => {
    const w = await wall()
    await w.hear('ropewalk/w02', 'opened')
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    expect(w.text('.bands')).to.equal(
      'The keeper is silent. What you see is what this tablet itself has counted, and what the keeper last called open.',
    )
    expect(w.says('W01')).to.equal('opened 20:47, nobody has seen it shut')
    expect(w.text('.headline')).to.equal('2 may be open')
  })

  it('an older look kept here does not hide what the keeper called open since', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.leaveOpen('w01')
    await w.press('I looked, it is shut')
    expect(w.says('W01')).to.equal('seen shut 21:47')
    await w.pass(60_000)
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened', { since: iso(w.stage.now) }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    expect(w.says('W01')).to.equal('opened 21:48, nobody has seen it shut')
  })

  it('a keeper that was gone before the link is old by its own last word', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.pass(3 * 3_600_000)
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.text('.bands')).to.equal('Not live. What you see is what was known Wed 21:47.')
  })

  it('what a keeper says is drawn whatever stands in it', async () => {
    const w = await wall()
    const note = { v: 1, state: 'live', beat: iso(w.stage.now), since: iso(EVENING - 86_400_000) }
    await w.hear(`${TALLY}/keeper`, JSON.stringify({ ...note, problem: 'see 2026-13-45T99:99Z <b>' }))
    expect(w.text('.bands')).to.equal('The keeper says: see 2026-13-45T99:99Z <b>')
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    expect(w.text('.headline')).to.equal('1 may be open')
  })

  it('on the last look round a look that the keeper has not answered is not ticked', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed', { doubts: ['untested'] }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Last look round')
    const row = () => [...w.root.querySelectorAll('.uncertain .tick')].find(each => each.textContent?.includes('W02'))!
    ;(row().querySelector('.tick-act') as HTMLButtonElement).click()
    const said = await until('the say', () => w.stage.feed.published[0])
    expect(said.topic).to.equal(`${TALLY}/say/W02`)
    expect(row().className).to.not.include('done')
    await w.drawn()
    expect(row().querySelector('.tick-box')?.className).to.include('waits')
    // Nor one of what was shut before: the keeper says when it is noted.
    const shut = () => [...w.root.querySelectorAll('.uncertain .tick')].find(each => each.textContent?.includes('W01'))!
    ;(shut().querySelector('.tick-act') as HTMLButtonElement).click()
    const second = await until('the say', () => w.stage.feed.published[1])
    await w.drawn()
    expect(shut().className).to.not.include('done')
    // Another look is on its way meanwhile.
    await w.hear(`${TALLY}/opening/D01`, reading(w, 'closed', { mark: 'D01', doubts: ['untested'] }))
    const other = () =>
      [...w.root.querySelectorAll('.uncertain .tick')].find(each => each.textContent?.includes('D01'))!
    ;(other().querySelector('.tick-act') as HTMLButtonElement).click()
    await until('the say', () => w.stage.feed.published[2])
    await w.drawn()
    expect(shut().className).to.not.include('done')
    expect(shut().querySelector('button'), 'it cannot be said twice before its answer').to.equal(null)
    expect(w.stage.feed.published.length).to.equal(3)
    await w.hear(`${TALLY}/heard/${JSON.parse(second.payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the tick', () => shut().className.includes('done'))
    // The first is refused: that is told, although others were said since.
    const refusal = JSON.stringify({ v: 1, ok: false, problem: 'the disk is full' })
    await w.hear(`${TALLY}/heard/${JSON.parse(said.payload).id}`, refusal)
    await until('the reason', () => w.text('.deed.failed') === 'W02: The keeper says: the disk is full')
    expect(w.all('.deed').length, 'and what was said since stands beside it').to.equal(3)
  })

  it('an undo that fails is told, although something else was said since', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/opening/W02`, reading(w, 'opened', { mark: 'W02' }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Last look round')
    tick(w, 'W01')
    await answer(w, 0, { ok: true })
    await until('the way back', () => w.root.querySelector('.undo'))
    await w.press('Take back')
    tick(w, 'W02')
    await answer(w, 2, { ok: true })
    await answer(w, 1, { ok: false, problem: 'the disk is full' })
    await until(
      'the reason',
      () => w.text('.deed.failed') === 'W01 not taken back yet. The keeper says: the disk is full',
    )
    expect(w.all('.box .undo, .elsewhere .undo').length, 'each has its way back').to.equal(2)
  })

  it('an undo that the silent keeper did not hear goes to the keeper when it is back, whatever failed since', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    for (const mark of ['W01', 'W02']) await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'opened', { mark }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Last look round')
    tick(w, 'W01')
    const { payload } = await until('the say', () => w.stage.feed.published[0])
    await w.hear(`${TALLY}/heard/${JSON.parse(payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the way back', () => w.root.querySelector('.undo'))
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    await w.press('Take back')
    expect(w.text('.deed.failed')).to.equal('W01 not taken back yet. Not possible now: the keeper is not heard.')
    tick(w, 'W02')
    await w.drawn()
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Take back')
    const undo = await until('the undo', () => w.stage.feed.published[1])
    expect(JSON.parse(undo.payload)).to.include({ what: 'undone', undoes: JSON.parse(payload).id })
  })

  it('what was not answered keeps its way back when it is said again, and a refusal takes no other’s', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    for (const mark of ['W01', 'W02']) await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'opened', { mark }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Last look round')
    await impatient(async () => {
      tick(w, 'W01')
      await until('the end of waiting', () => w.text('.deed.failed').startsWith('W01: No answer yet'))
    })
    tick(w, 'W01')
    await answer(w, 1, { ok: true })
    await until('both', () => w.all('.box .undo, .elsewhere .undo').length === 2)
    expect(w.text('.leave-box .deed')).to.equal('W01 seen shut, noted 21:47')
    tick(w, 'W02')
    await answer(w, 2, { ok: false, problem: 'the disk is full' })
    await until('the reason', () => w.all('.deed').some(line => line === 'W02: The keeper says: the disk is full'))
    expect(w.all('.deed'), 'what was noted before can still be taken back').to.include('W01 seen shut, noted 21:47')
  })

  it('of what was said at once what the keeper has noted stays ticked, and what it refused does not', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    for (const mark of ['W01', 'W02']) await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'opened', { mark }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Last look round')
    await w.press('I looked, all 2 are shut here')
    const said = await until('both', () => w.stage.feed.published.length === 2 && w.stage.feed.published)
    for (const [n, { topic, payload }] of said.entries()) {
      const mark = topic.slice(-3)
      if (n === 0) await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'closed', { mark }))
      const answer = n === 0 ? { v: 1, ok: true } : { v: 1, ok: false, problem: 'the disk is full' }
      await w.hear(`${TALLY}/heard/${JSON.parse(payload).id}`, JSON.stringify(answer))
    }
    await until('the reason', () => w.text('.deed.failed').startsWith('W02: The keeper says: the disk is full'))
    expect(w.all('.floors .ticks .done .tag')).to.deep.equal(['W01'])
    expect(w.all('.floors .ticks .tag')).to.deep.equal(['W01', 'W02'])
    expect(w.all('.deed'), 'each told apart').to.have.members([
      'W01 seen shut, noted 21:47',
      'W02: The keeper says: the disk is full',
    ])
  })

  it('a look can be said again once the first has been taken back, and no sooner', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('I looked, it is shut')
    await answer(w, 0, { ok: true })
    await until('the way back', () => w.root.querySelector('.undo'))
    await w.pass(2_000)
    await w.press('Take back')
    expect(w.all('.house-box button')).to.deep.equal([])
    await answer(w, 1, { ok: true })
    await w.press('I looked, it is shut')
    const again = await until('the say', () => w.stage.feed.published[2])
    expect(JSON.parse(again.payload).what).to.equal('seen-closed')
  })

  it('a word that came again, and its rest word, are not hidden by what the keeper said before', async () => {
    const register = HOUSE.replace('cell: CR2032,', 'cell: CR2032, repeatSeconds: 600,')
    const w = await wall({ register })
    await w.hear('ropewalk/w01', 'opened')
    await w.pass(300_000)
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    // It stops without a word.
    await w.pass(302_000)
    await w.hear('ropewalk/w01', 'opened')
    await w.pass(15_000)
    await w.hear('ropewalk/w01', 'asleep')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.text('.headline')).to.equal('1 may be open')
  })

  it('what a keeper says of itself stands over the sheet, its times as the house tells them', async () => {
    const w = await wall()
    await w.hear('ropewalk/w02', 'opened')
    const note = { v: 1, state: 'live', beat: iso(w.stage.now), since: iso(EVENING - 86_400_000) }
    const problem = `words between ${iso(EVENING - 3_600_000)} and ${iso(EVENING)} are not here`
    await w.hear(`${TALLY}/keeper`, JSON.stringify({ ...note, problem }))
    expect(w.text('.bands')).to.equal('The keeper says: words between 20:47 and 21:47 are not here')
    await w.hear(`${TALLY}/keeper`, JSON.stringify({ ...note, state: 'broken', problem: 'the disk is full' }))
    expect(w.text('.bands')).to.match(/^The keeper is silent.*The keeper says: the disk is full$/)
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.text('.bands')).to.equal('')
  })

  it('what the keeper last said stays while the link is down, marked as old', async () => {
    const w = await wall()
    await w.hear('ropewalk/w02', 'opened')
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.pass(1_000)
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.says('W01')).to.equal('seen shut 20:47')
    expect(w.text('.bands')).to.equal('Not live. What you see is what was known 21:47.')
    // A keeper that was gone before does not come back by a link that breaks.
    w.stage.live()
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    expect(w.says('W01')).to.match(/^never tried yet/)
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.says('W01')).to.match(/^never tried yet/)
  })

  it('without a beat for 90 s it is gone, and the own tally comes back', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.says('W01')).to.match(/^seen shut 20:47/)
    await w.pass(89_000)
    expect(w.says('W01')).to.match(/^seen shut 20:47/)
    await w.pass(2_000)
    expect(w.says('W01')).to.match(/^opened 21:47/)
    expect(w.text('.bands')).to.match(/The keeper is silent/)
    expect(w.text('.title-block .source')).to.include('the keeper is silent; counted on this tablet since')
  })

  it('its last word gone ends it at once', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.hear(`${TALLY}/keeper`, keeper(w, 'gone'))
    expect(w.says('W01')).to.match(/^open since 21:47/)
  })

  it('a wall without an ear of its own keeps its last readings, marked as old', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'), { retain: true })
    expect(w.says('W01')).to.match(/^seen shut 20:47/)
    expect(w.text('.bands')).to.match(/its next beat is awaited.*this is what it last said, \d\d:\d\d\.$/)
    await w.pass(60_000)
    expect(w.text('.bands')).to.match(/^The keeper is gone\. What you see is what it last said, \d\d:\d\d\./)
  })

  it('a wall that may not hear the contacts never shows its own looks in the place of what the keeper said', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    // Said here: this tablet's own tally holds looks, and not one word of a contact.
    w.row('W01').click()
    await w.drawn()
    await w.press(/fitted a new cell/)
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.pass(120_000)
    expect(w.says('W01')).to.match(/^opened 20:47/)
    expect(w.text('.headline')).to.equal('1 may be open')
    expect(w.text('.bands')).to.match(/The keeper is gone/)
  })

  it('a wall that waits for a keeper asks for an account where the broker refuses', async () => {
    const w = await wall({ bare: true, live: false, attributes: { tally: TALLY, broker: 'ws://127.0.0.1:9001' } })
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why: 'the broker wants an account', account: true })
    await w.drawn()
    expect(w.root.querySelector('.account input[type="password"]')).to.not.equal(null)
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why: 'the broker is not ready' })
    await w.drawn()
    expect(w.root.querySelector('.account')).to.equal(null)
  })

  it('a wall whose kept account hears nothing says so after 20 s, and takes another account', async () => {
    localStorage.clear()
    localStorage.setItem(
      'sashtally account ws://127.0.0.1:9001',
      JSON.stringify({ user: 'kiln-onlooker', password: 'clay' }),
    )
    const stage = new Stage()
    const w = await wall({ stage, bare: true, attributes: { tally: TALLY, broker: 'ws://127.0.0.1:9001' } })
    expect(stage.asked.map(({ user }) => user)).to.deep.equal(['kiln-onlooker'])
    await w.pass(19_000)
    expect(w.all('.account')).to.have.length(0)
    await w.pass(2_000)
    expect(w.text('.fallback')).to.include('Nothing at all has been heard')
    const [user, password] = [...w.root.querySelectorAll<HTMLInputElement>('.account input')]
    user!.value = 'print-onlooker'
    password!.value = 'ink'
    w.root.querySelector('form')!.requestSubmit()
    await w.drawn()
    expect(stage.asked.map(({ user }) => user)).to.deep.equal(['kiln-onlooker', 'print-onlooker'])
    stage.feed.link({ state: 'connecting', since: stage.now })
    stage.live()
    await w.drawn()
    expect(w.all('.account'), 'the new one is given its time').to.have.length(0)
    expect(localStorage.getItem('sashtally account ws://127.0.0.1:9001'), 'the other house keeps its own').to.include(
      'kiln',
    )
  })

  it('houses with one tally at two brokers remember a walk and a keeper each', async () => {
    const report = { at: iso(EVENING - 60_000), heard: ['W01'], leftOut: [], missing: [], failed: [] }
    const at = (broker: string, stage: Stage) =>
      wall({ stage, bare: true, live: false, attributes: { tally: TALLY, broker, view: 'round' } })
    const seen = async (w: Wall) => {
      w.stage.live()
      await w.hear(`${TALLY}/register`, REGISTER_NOTE, { retain: true })
      await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed'), { retain: true })
      await w.hear(`${TALLY}/keeper`, keeper(w))
      return w
    }
    localStorage.clear()
    sessionStorage.clear()
    localStorage.setItem(`sashtally round ${TALLY} ws://kiln.lan:9001`, JSON.stringify(report))
    const kiln = await seen(await at('ws://kiln.lan:9001', new Stage()))
    expect(kiln.text('.round')).to.include('Walk of 21:46')
    kiln.card.remove()
    const print = await seen(await at('ws://print.lan:9001', new Stage()))
    expect(print.text('.round')).to.not.include('Walk of')
    print.card.remove()
  })

  it('a wall that may not say has no acts', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.all('.great-act')).to.deep.equal([])
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.story')).to.include('This wall only shows: nothing can be said here.')
  })

  it('what is said goes to the keeper and holds when it has answered', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('I looked, it is shut')
    const said = await until('the say', () => w.stage.feed.published[0])
    expect(said.topic).to.equal(`${TALLY}/say/W01`)
    expect(w.all('.house-box button'), 'it takes no second touch before the answer').to.deep.equal([])
    const { id, what, v } = JSON.parse(said.payload)
    expect([v, what]).to.deep.equal([1, 'seen-closed'])
    expect(w.text('.deed')).to.equal('Telling the keeper …')
    await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the note', () => w.text('.deed').startsWith('W01 seen shut, noted'))
    await w.press('Take back')
    const undo = await until('the undo', () => w.stage.feed.published[1])
    expect(JSON.parse(undo.payload)).to.include({ what: 'undone', undoes: id })
    await w.hear(`${TALLY}/heard/${JSON.parse(undo.payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the end', () => w.text('.deed') === 'Taken back.')
  })

  it('a say that the keeper refuses is not noted, and its reason is shown', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('I looked, it is shut')
    const said = await until('the say', () => w.stage.feed.published[0])
    const { id } = JSON.parse(said.payload)
    await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: false, problem: 'the disk is full' }))
    await until('the reason', () => w.text('.deed') === 'W01: The keeper says: the disk is full')
  })

  for (const [code, en, de] of [
    ['unknown', 'W01: the keeper does not know it any more.', 'W01: der Zähldienst kennt es nicht mehr.'],
    ['no-cell', 'W01: it has no cell.', 'W01: es hat keine Batterie.'],
    [
      'signed',
      'W01: the keeper did not take it: tell whoever looks after it.',
      'W01: der Zähldienst hat es nicht angenommen: bitte der Person Bescheid geben, die sich darum kümmert.',
    ],
  ] as const) {
    it(`a refusal with the code ${code} is put into the words of the wall’s language`, async () => {
      for (const [lang, told] of Object.entries({ en, de })) {
        const w = await wall({ attributes: { 'may-say': '', lang } })
        await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
        await w.hear(`${TALLY}/keeper`, keeper(w))
        w.row('W01').click()
        await w.drawn()
        w.root.querySelector<HTMLElement>('.look-box button')!.click()
        await answer(w, 0, { ok: false, problem: 'the register has no opening W01', code })
        await until('the reason', () => w.text('.look-box .deed') === told)
      }
    })
  }

  it('in a house with a keeper a word goes to the keeper or nowhere', async () => {
    for (const [lang, act, sentence] of [
      ['en', 'I looked, it is shut', 'Not possible now: the keeper is not heard.'],
      ['de', 'Nachgesehen, es ist zu', 'Jetzt nicht möglich: Der Zähldienst meldet sich nicht.'],
    ] as const) {
      const w = await wall({ attributes: { 'may-say': '', lang } })
      await w.hear('ropewalk/w01', 'opened')
      await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
      await w.hear(`${TALLY}/keeper`, keeper(w))
      expect(w.text('.great-act')).to.equal(`${act} W01.`)
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.drawn()
      expect(w.text('.great-act')).to.equal(`${act} ${sentence}`)
      await w.press(new RegExp(`^${act}`))
      expect(w.text('.deed')).to.equal(sentence)
      w.stage.live()
      await w.hear(`${TALLY}/keeper`, keeper(w))
      expect(w.text('.great-act')).to.equal(`${act} W01.`)
      expect(w.text('.deed'), 'what stood in the way is gone').to.equal('')
      expect(w.text('.headline b')).to.equal('1')
      expect(w.stage.feed.published).to.deep.equal([])
      expect(w.stage.memory.entries.filter(entry => entry.what === 'seen-closed')).to.deep.equal([])
    }
  })

  it('a wall that may not say has no acts while the keeper is awaited either', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear(`${TALLY}/keeper`, keeper(w))
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    w.stage.live()
    await w.drawn()
    expect(w.text('.bands')).to.match(/its next beat is awaited/)
    expect(w.all('.great-act')).to.deep.equal([])
  })

  it('a tablet loaded while the link is down knows that the house has a keeper, until none is heard', async () => {
    const first = await wall({ attributes: { 'may-say': '' } })
    await first.leaveOpen('w01')
    await first.hear(`${TALLY}/keeper`, keeper(first))
    await first.pass(1_000)
    first.card.remove()
    const w = await wall({ stage: first.stage, attributes: { 'may-say': '' }, live: false })
    await until('the sheet as the page that writes', () => w.text('.headline').startsWith('1 may be open'))
    expect(w.text('.great-act')).to.equal('I looked, it is shut Not possible now: the keeper is not heard.')
    w.stage.live()
    await w.hear('ropewalk/w01', 'asleep', { retain: true })
    await w.pass(21_000)
    expect(w.text('.great-act')).to.equal('I looked, it is shut W01.')
    expect(w.text('.bands')).to.equal('')
  })

  it('what the keeper noted is taken back by the keeper alone', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear('ropewalk/w02', 'opened')
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('I looked, it is shut')
    const said = await until('the say', () => w.stage.feed.published[0])
    const { id } = JSON.parse(said.payload)
    await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the note', () => w.text('.deed').startsWith('W01 seen shut, noted'))
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.press('Take back')
    expect(w.text('.deed')).to.equal('W01 not taken back yet. Not possible now: the keeper is not heard.')
    expect(w.stage.feed.published).to.have.length(1)
    w.stage.live()
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Take back')
    const undo = await until('the undo', () => w.stage.feed.published[1])
    expect(JSON.parse(undo.payload)).to.include({ what: 'undone', undoes: id })
    await w.hear(`${TALLY}/heard/${JSON.parse(undo.payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the end', () => w.text('.deed') === 'Taken back.')
  })

  it('a say without an answer may still be noted, and can still be taken back', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await impatient(async () => {
      await w.press('I looked, it is shut')
      await until('the end of waiting', () => /^W01: No answer yet/.test(w.text('.deed')))
    })
    expect(w.text('.deed')).to.equal('W01: No answer yet: it may still be noted.')
    const { id } = JSON.parse(w.stage.feed.published[0]!.payload)
    // It is noted after all.
    await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true }))
    expect(w.all('.deed')).to.deep.equal(['W01 seen shut, noted 21:47'])
    await w.press('Take back')
    const undo = await until('the undo', () => w.stage.feed.published[1])
    expect(JSON.parse(undo.payload)).to.include({ what: 'undone', undoes: id })
  })

  it('a look that is said twice without an answer is noted twice, each with its way back', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    const ids = () => w.stage.feed.published.map(({ payload }) => JSON.parse(payload).id as string)
    await impatient(async () => {
      await w.press('I looked, it is shut')
      await until('the end of waiting', () => w.text('.deed.failed').startsWith('W01: No answer yet'))
      await w.press('I looked, it is shut')
      await until('the end of waiting', () => ids().length === 2 && w.all('.deed.sending').length === 0)
    })
    for (const id of ids()) await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true }))
    expect(w.all('.deed')).to.deep.equal(['W01 seen shut, noted 21:47', 'W01 seen shut, noted 21:47'])
    for (const button of [...w.root.querySelectorAll<HTMLButtonElement>('.undo')]) button.click()
    await until('both', () => ids().length === 4)
    const undone = w.stage.feed.published.slice(2).map(({ payload }) => JSON.parse(payload).undoes)
    expect(undone.sort()).to.deep.equal(ids().slice(0, 2).sort())
  })

  it('another act that is noted late ticks nothing on the last look round', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed', { doubts: ['untested'] }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    w.row('W01').click()
    await w.drawn()
    await impatient(async () => {
      await w.press('I fitted a new cell')
      await until('the end of waiting', () => w.text('.deed.failed').startsWith('W01: No answer yet'))
    })
    await w.press('Last look round')
    const { id } = JSON.parse(w.stage.feed.published[0]!.payload)
    await w.hear(`${TALLY}/heard/${id}`, JSON.stringify({ v: 1, ok: true }))
    expect(w.text('.deed')).to.equal('W01: new cell, noted 21:47')
    expect(w.all('.done')).to.deep.equal([])
  })

  it('while you were out tells what the keeper’s readings tell, while it gives no story', async () => {
    const w = await wall()
    const heard = (mark: string, ago: number, word: string, more = {}) =>
      w.hear(
        `${TALLY}/opening/${mark}`,
        reading(w, 'closed', { mark, last: { at: iso(w.stage.now - ago), word, how: 'live' }, ...more }),
        { retain: true },
      )
    await heard('D01', 60_000, 'closed', { since: iso(w.stage.now - 60_000) })
    await heard('W01', 3_700_000, 'rest', { provenAt: iso(w.stage.now - 3_706_000) })
    await heard('W02', 13 * 3_600_000, 'rest', { provenAt: iso(w.stage.now - 13 * 3_600_000) })
    await w.hear(`${TALLY}/opening/W03`, reading(w, 'opened', { mark: 'W03', since: iso(w.stage.now - 7_200_000) }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('While you were out')
    expect(w.all('.while-out .tick .tag')).to.deep.equal(['D01', 'W01', 'W03'])
    expect(w.all('.while-out .tick .say')).to.deep.equal([
      'heard shut 21:46; when it was opened is not known',
      'opened at least once, last 20:45',
      'opened at least once, last 19:47',
    ])
    expect(w.text('.while-out')).to.not.include('Nothing was heard')
  })

  it('a round leaves nothing in the house’s tally from a wall that may not say, and says so', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.press('End the walk')
    await until('the report', () => w.text('.round').includes('Walk of 21:47'))
    expect(w.stage.feed.published).to.deep.equal([])
    expect(w.stage.memory.entries.filter(entry => entry.what === 'round')).to.deep.equal([])
    expect(w.text('.deed')).to.equal('4 entries of the walk not kept. This wall only shows: nothing can be said here.')
  })

  it('entries of a round that the keeper refuses are told', async () => {
    const w = await wall({ attributes: { 'may-say': '' } })
    await w.hear(`${TALLY}/keeper`, keeper(w))
    await w.press('Walk and test')
    await w.press('Start the walk')
    await w.press('End the walk')
    const said = await until('the says', () => w.stage.feed.published.length === 4 && w.stage.feed.published)
    for (const [index, { payload }] of said.entries()) {
      const answer = index < 3 ? { v: 1, ok: false, problem: 'the disk is full' } : { v: 1, ok: true }
      await w.hear(`${TALLY}/heard/${JSON.parse(payload).id}`, JSON.stringify(answer))
    }
    await until('the reason', () => w.text('.deed') !== '')
    expect(w.text('.deed')).to.equal('3 entries of the walk not kept. The keeper says: the disk is full')
  })

  it('an opening that is on test is said to be, over the sheet and in its row, and is not called shut', async () => {
    const w = await wall()
    const until = iso(w.stage.now + 600_000)
    for (const mark of ['W02', 'W03', 'D01']) await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'closed', { mark }))
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'closed', { onTestUntil: until, unheard: until }))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.text('.bands')).to.equal('W01 is on test until 21:57: what its contact says does not count.')
    expect(w.says('W01')).to.equal('on test until 21:57: what it says does not count, seen shut 20:47')
    expect(w.text('.headline')).to.equal('None heard open, 1 not certain')
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.story .warning')).to.match(/^It is on test until 21:57: .* Look afterwards\.$/)
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened', { onTestUntil: until }))
    await w.hear(`${TALLY}/opening/W02`, reading(w, 'opened', { mark: 'W02', onTestUntil: until }))
    expect(w.text('.bands')).to.match(/^W01, W02 are on test, until 21:57 at the latest/)
    expect(w.says('W01')).to.equal(
      'opened 20:47, nobody has seen it shut · on test until 21:57: what it says does not count',
    )
  })

  it('a payload that does not fit changes nothing', async () => {
    const w = await wall()
    await w.hear(`${TALLY}/keeper`, keeper(w))
    for (const text of ['', '{', '[]', '{"v":1}', '{"v":2,"mark":"W01"}', 'null', '<b>']) {
      await w.hear(`${TALLY}/opening/W01`, text)
      await w.hear(`${TALLY}/keeper`, text)
      await w.hear(`${TALLY}/register`, text)
    }
    expect(w.marks()).to.have.length(4)
    expect(w.says('W01')).to.match(/never tried yet/)
  })

  it('a wall without a register of its own takes the house from the keeper', async () => {
    const w = await wall({ register: ' ', attributes: { tally: TALLY, broker: 'ws://127.0.0.1:9001' }, bare: true })
    await until('the reason', () => w.text('.no-house') === `Waiting for the keeper’s register on ${TALLY}`)
    const policy = {
      reports: 'openings',
      power: 'cell',
      keepAliveSeconds: 4,
      bootSeconds: 4,
      bounceSeconds: 30,
      provenWithinDays: 180,
      takeAsClosedAfterMinutes: null,
      replaceBelow: 0.9,
    }
    const opening = { mark: 'W01', name: 'Dye room', kind: 'sash', reports: 'openings', cell: 'CR2032', policy }
    const other = { ...opening, mark: 'W02' }
    const house = { v: 1, house: 'Ropewalk Studios', timezone: 'Europe/Lisbon', sides: [], floors: 1, roof: 'flat' }
    await w.hear(`${TALLY}/register`, JSON.stringify({ ...house, openings: [opening, other] }), { retain: true })
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.says('W01')).to.equal('opened 20:47, nobody has seen it shut')
    expect(w.stage.feed.filters).to.have.members(
      ['register', 'keeper', 'opening/+', 'story/+', 'heard/+'].map(t => `${TALLY}/${t}`),
    )
    // Its walk goes on past an opening that sent no word, though it has no tally of its own.
    w.card.maySay = true
    await w.press('Walk and test')
    await w.press('Start the walk')
    const failed = () => w.all('.walk-box button')
    expect(failed()).to.have.length(1)
    const button = w.root.querySelector('.walk-box button') as HTMLButtonElement
    button.click()
    button.click()
    const said = await until('the say', () => w.stage.feed.published[0])
    await w.hear(`${TALLY}/heard/${JSON.parse(said.payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('the next', () => /W02.*next/i.test(w.text('.round .tick.next')))
    expect(w.stage.feed.published, 'pressed twice, said once').to.have.length(1)
    await w.press('Take back')
    const undo = await until('the undo', () => w.stage.feed.published[1])
    await w.hear(`${TALLY}/heard/${JSON.parse(undo.payload).id}`, JSON.stringify({ v: 1, ok: true }))
    await until('it is ahead again', () => /W01/.test(w.text('.round .tick.next')))
  })

  it('a broker that lets this account read the tally alone is live with a keeper, and says so without', async () => {
    const w = await wall()
    w.stage.feed.link({
      state: 'refused',
      since: w.stage.now,
      why: 'the broker does not let this account read ropewalk/w01',
      filters: ['ropewalk/w01'],
    })
    await w.drawn()
    expect(w.text('.link')).to.equal('live in part: this wall may not read everything')
    expect(w.root.querySelector('.account')).to.not.equal(null)
    await w.hear(`${TALLY}/opening/W01`, reading(w, 'opened'))
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.says('W01')).to.equal('opened 20:47, nobody has seen it shut')
    expect(w.root.querySelector('.account')).to.equal(null)
    expect(w.text('.bands')).to.equal('')
  })

  it('a broker that lets nobody read the readings any more makes a live keeper’s old ones no fresher', async () => {
    const w = await wall()
    for (const mark of ['W01', 'W02', 'W03', 'D01'])
      await w.hear(`${TALLY}/opening/${mark}`, reading(w, 'closed', { mark }), { retain: true })
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.text('.headline')).to.equal('All shut')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(60_000)
    w.stage.live()
    w.stage.feed.link({
      state: 'refused',
      since: w.stage.now,
      why: `the broker does not let this account read ${TALLY}/opening/+`,
      filters: [`${TALLY}/opening/+`],
    })
    await w.hear(`${TALLY}/keeper`, keeper(w))
    expect(w.text('.headline')).to.equal('None heard open when last live')
    expect(w.text('.bands')).to.equal('Live in part: this wall may not read everything.')
    // What the page hears itself is not hidden behind that.
    await w.hear('ropewalk/w01', 'opened')
    expect(w.says('W01')).to.match(/^open since/)
    expect(w.text('.headline')).to.equal('1 may be open')
    expect(w.text('.bands')).to.equal('Live in part: this wall may not read everything.')
  })
})
