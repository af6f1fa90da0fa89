import { expect } from 'chai'
import type { SashOpened } from '../../src/card/events.ts'
import { EVENING, Stage } from './fixtures.ts'
import { frame, HOUSE, until, wall } from './wall.ts'

describe('what is heard', () => {
  it('is painted before the link has answered, and is not called live', async () => {
    const w = await wall({ live: false })
    await until('the schedule', () => w.marks().length === 4)
    expect(w.text('.bands')).to.equal('Not live yet. Nothing has been heard on this tablet.')
    expect(w.text('.headline')).to.equal('None heard open, 4 not certain')
  })

  it('an opening shows as open and tells the page; a kept copy of it does neither', async () => {
    const w = await wall()
    const told: string[] = []
    w.card.addEventListener('sash-opened', event => told.push((event as SashOpened).mark))
    await w.hear('ropewalk/w01', 'opened', { retain: true })
    await w.hear('ropewalk/w02', 'opened')
    expect(told).to.deep.equal(['W02'])
    expect(w.says('W02')).to.equal('open since 21:47')
    expect(w.stage.memory.ledger?.marks.W01).to.equal(undefined)
    await until('the commit', () => w.stage.memory.ledger?.marks.W01)
    expect(w.stage.memory.ledger?.marks.W01?.fold.openings).to.equal(0)
    expect(w.stage.memory.ledger?.marks.W02?.fold.openings).to.equal(1)
  })

  it('the rest word turns open into opened, and never into closed', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    w.stage.now += 6_000
    await w.hear('ropewalk/w01', 'asleep')
    expect(w.says('W01')).to.equal('opened 21:47, nobody has seen it shut')
    expect(w.text('.headline')).to.equal('1 may be open')
  })

  it('open ends by the clock alone when no rest word comes', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.pass(16_000)
    expect(w.says('W01')).to.match(/^open since/)
    await w.pass(2_000)
    expect(w.says('W01')).to.match(/^opened 21:47, nobody/)
  })

  it('a link that goes down is said with the time of what is shown, and heals', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    const links: string[] = []
    w.card.addEventListener('sash-link', event => links.push((event as Event & { link: { state: string } }).link.state))
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(3_600_000)
    expect(w.text('.bands')).to.equal('Not live. What you see is what was known 21:47.')
    expect(w.text('.link')).to.equal('no link since 21:47')
    expect(w.root.querySelector('.frame.stale')).to.not.equal(null)
    w.stage.live()
    await w.drawn()
    expect(w.text('.bands')).to.equal('')
    expect(links).to.deep.equal(['down', 'live'])
  })

  it('all shut is said only while live, when every opening is known to be shut', async () => {
    const door = HOUSE.replace(/ {2}- \{ mark: W.*\n/g, '')
    const w = await wall({ register: door })
    await w.hear('ropewalk/d01', 'shut')
    expect(w.text('.headline')).to.equal('All shut')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.drawn()
    expect(w.text('.headline')).to.equal('None heard open when last live')
  })

  it('a reload keeps the tally and the date since when it counts', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await until('the commit', () => w.stage.memory.ledger?.marks.W01)
    w.card.remove()
    await w.pass(60_000)
    const place = document.body.appendChild(document.createElement('div'))
    place.append(w.card)
    await until('another link', () => w.stage.feeds.length === 2)
    w.stage.live()
    await until('the rows', () => w.root.querySelector('[data-mark="W01"].row-open'))
    expect(w.says('W01')).to.match(/^opened 21:47/)
    expect(w.text('.title-block .source')).to.include('counted on this tablet since 21:47')
    place.remove()
  })

  it('markup in names, rooms and payloads stays text', async () => {
    const evil = '<img src=x onerror=alert(1)>'
    const register = HOUSE.replace('name: Attic, room: Attic', `name: '${evil}', room: 'North ${evil}'`)
    const w = await wall({ register })
    await w.hear('ropewalk/w03', evil)
    w.row('W03').click()
    await w.drawn()
    expect(w.root.querySelectorAll('img, script')).to.have.length(0)
    expect(w.row('W03').querySelector('.odd')?.textContent).to.include(evil)
    expect(w.text('.story h2')).to.equal(evil)
    expect(w.text('.story .aside')).to.include(`North ${evil}`)
  })

  it('a burst of 5,000 words is drawn at most once a frame', async () => {
    const w = await wall()
    let renders = 0
    const perform = (w.card as unknown as { performUpdate(): void }).performUpdate
    Object.assign(w.card, {
      performUpdate() {
        renders++
        perform.call(w.card)
      },
    })
    let frames = 0
    let isCounting = true
    const count = () => {
      frames++
      if (isCounting) requestAnimationFrame(count)
    }
    requestAnimationFrame(count)
    for (let batch = 0; batch < 25; batch++) {
      for (let n = 0; n < 200; n++) w.stage.feed.hear('ropewalk/d01', n % 2 ? 'shut' : 'ajar')
      await new Promise(done => setTimeout(done, 3))
    }
    await w.drawn()
    isCounting = false
    expect(renders).to.be.at.most(frames + 2)
    expect(renders).to.be.at.least(1)
    expect(w.says('D01')).to.match(/^closed 21:47/)
  })

  it('changes are spoken as one sentence after a burst', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'opened')
    await w.hear('ropewalk/w02', 'opened')
    await w.hear('ropewalk/d01', 'ajar')
    expect(w.text('[aria-live]')).to.equal('')
    await until('the sentence', () => w.text('[aria-live]'))
    expect(w.text('[aria-live]')).to.equal('3 openings changed. 3 may be open.')
  })

  it('stops its clock, its link and its listeners when it leaves the page', async () => {
    const w = await wall()
    const feed = w.stage.feed
    let ticks = 0
    const update = w.card.requestUpdate.bind(w.card)
    w.card.requestUpdate = (...args) => {
      ticks++
      update(...args)
    }
    w.card.remove()
    expect(feed.closed).to.equal(true)
    await frame()
    const before = ticks
    await new Promise(done => setTimeout(done, 1300))
    feed.hear('ropewalk/w01', 'opened')
    expect(ticks).to.equal(before)
  })

  it('a tablet whose clock is behind the time until which it listened says that no time can be relied on', async () => {
    const stage = new Stage([], EVENING)
    localStorage.setItem('sashtally heard ropewalk/tally', String(EVENING + 3_600_000))
    const w = await wall({ stage })
    await w.hear('ropewalk/w01', 'opened')
    expect(w.text('.bands')).to.equal('This tablet’s clock is wrong: no time here can be relied on.')
    expect(w.text('.time'), 'the earliest time that it can be').to.include('22:47')
    w.stage.now += 7_200_000
    w.stage.set += 7_200_000
    document.dispatchEvent(new Event('visibilitychange'))
    await w.drawn()
    expect(w.text('.bands')).to.not.include('no time here')
    expect(w.says('W01')).to.include('between')
  })

  it('a tablet that slept, or whose clock was set, dials anew and says so', async () => {
    const w = await wall()
    await w.hear('ropewalk/w01', 'asleep', { retain: true })
    await w.pass(60_000)
    expect(w.text('.bands')).to.equal('')
    w.stage.now += 3_600_000
    w.stage.set += 3_600_000
    document.dispatchEvent(new Event('visibilitychange'))
    await w.drawn()
    expect(w.stage.feeds).to.have.length(2)
    expect(w.text('.bands')).to.include('This tablet slept or its clock was set, by 1 hr.')
    w.stage.live()
    await w.pass(13 * 3_600_000)
    expect(w.text('.bands'), 'half a day later').to.equal('')
    w.stage.now += 3_600_000
    document.dispatchEvent(new Event('visibilitychange'))
    await w.drawn()
    expect(w.stage.feeds, 'a page that was not run for an hour').to.have.length(3)
  })

  it('a change of clocks while showing moves no opening', async () => {
    const w = await wall({ now: Date.parse('2026-10-25T00:30:00Z') })
    await w.hear('ropewalk/w01', 'opened')
    expect(w.text('.clock')).to.match(/^01:30 \w/)
    expect(w.says('W01')).to.match(/^open since 01:30 \w/)
    await w.pass(45 * 60_000)
    expect(w.text('.clock')).to.match(/^01:15 \w/)
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.story > .say')).to.include('45 min ago')
  })

  it('runs for 30 days with as many timers and listeners as on the first', async () => {
    const w = await wall()
    const made = { intervals: 0, listeners: 0 }
    const [interval, add] = [window.setInterval, EventTarget.prototype.addEventListener]
    window.setInterval = ((...args: Parameters<typeof setInterval>) => {
      made.intervals++
      return interval(...args)
    }) as typeof window.setInterval
    EventTarget.prototype.addEventListener = function (this: EventTarget, ...args: Parameters<typeof add>) {
      if (this === document || this === window || this === w.card) made.listeners++
      add.apply(this, args)
    }
    try {
      for (let day = 0; day < 30; day++) {
        await w.hear('ropewalk/w01', 'opened')
        w.stage.feed.link({ state: 'down', since: w.stage.now })
        await w.pass(60_000)
        w.stage.live()
        await w.pass(86_400_000 - 60_000)
      }
    } finally {
      window.setInterval = interval
      EventTarget.prototype.addEventListener = add
    }
    expect(made).to.deep.equal({ intervals: 0, listeners: 0 })
    expect(w.stage.feeds).to.have.length(1)
    expect(w.root.querySelectorAll('.row')).to.have.length(4)
  })

  it('dims at night when nobody is there, and wakes at a touch', async () => {
    const w = await wall({ now: Date.parse('2026-11-25T21:58:00Z') })
    await w.pass(3 * 60_000)
    expect(w.root.querySelector('.sheet.night')).to.not.equal(null)
    w.card.dispatchEvent(new PointerEvent('pointerdown'))
    await w.drawn()
    expect(w.root.querySelector('.sheet.night')).to.equal(null)
  })
})
