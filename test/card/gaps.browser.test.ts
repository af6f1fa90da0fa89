import { expect } from 'chai'
import type { Entry } from '../../src/protocol/entry.ts'
import { EVENING } from './fixtures.ts'
import { HOUSE, until, type Wall, type WallOptions, wall } from './wall.ts'

const HOUR = 3_600_000
const at = (hoursAgo: number) => new Date(EVENING - hoursAgo * HOUR).toISOString()
const entry = (mark: string, hoursAgo: number, what: Entry['what']): Entry => ({
  id: `${mark}${what}`,
  at: at(hoursAgo),
  mark,
  what,
  how: 'live',
})
/** Everything proved itself and was seen, or said to be, shut an hour ago. */
const SHUT = ['W01', 'W02', 'W03'].flatMap(mark => [entry(mark, 2, 'opened'), entry(mark, 1, 'seen-closed')])
const DOOR = [entry('D01', 2, 'opened'), entry('D01', 1, 'closed')]

/** The broker hands the word over that it kept of the door. */
const kept = (w: Wall, word = 'shut') => w.hear('ropewalk/d01', word, { retain: true })

/** A wall of that house once its cells are forecast: before that no silent one is certain. */
async function forecast(given: WallOptions): Promise<Wall> {
  const w = await wall(given)
  await until('the forecast', () => w.text('.headline') === 'All shut')
  return w
}

describe('a time in which nobody listened', () => {
  it('makes what was seen shut uncertain until somebody looks again', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    expect(w.text('.headline')).to.equal('All shut')
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(HOUR)
    w.stage.live()
    await w.drawn()
    expect(w.text('.headline')).to.equal('None heard open, 4 not certain')
    await kept(w)
    await until('the note', () => w.text('.headline') === 'None heard open, 3 not certain')
    expect(w.says('W01')).to.equal('nobody listened until 22:47, seen shut 20:47')
    // The door says both edges: its kept word tells how it stands.
    expect(w.says('D01')).to.match(/^closed 20:47/)
    expect(w.root.querySelector('.row-open[data-mark="W01"]')?.closest('.row')?.className).to.include('doubt')
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.story .warning')).to.match(/an opening in between was not heard\. Look again\./)
    await w.press('I looked, it is shut')
    expect(w.says('W01')).to.match(/^seen shut 2\d:\d\d$/)
    w.stage.feed.hear('ropewalk/w02', 'opened')
    await until('the word', () => /^open since/.test(w.says('W02')))
  })

  it('that was shorter than a last will takes hid nothing', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    w.card.remove()
    w.stage.now += 3_000
    const again = await forecast({ stage: w.stage })
    expect(again.text('.headline')).to.equal('All shut')
    again.card.remove()
    w.stage.now += 30_000
    const late = await wall({ stage: w.stage })
    await kept(late)
    await until('the note', () => late.text('.headline') === 'None heard open, 3 not certain')
  })

  it('by sleep counts from the last moment before it, however long a last will takes', async () => {
    const register = HOUSE.replace('reports: openings,', 'reports: openings, keepAliveSeconds: 60,')
    const w = await forecast({ register, entries: [...SHUT, ...DOOR] })
    expect(w.text('.headline')).to.equal('All shut')
    w.stage.now += 8 * HOUR
    document.dispatchEvent(new Event('visibilitychange'))
    await w.drawn()
    w.stage.feed.link({ state: 'connecting', since: w.stage.now })
    w.stage.now += 1_000
    w.stage.live()
    await kept(w)
    await until('the note', () => w.text('.headline') === 'None heard open, 3 not certain')
  })

  it('is not over for a door that somebody saw shut against its word, when the broker says that word again', async () => {
    const w = await wall({ entries: [...SHUT, entry('D01', 2, 'opened')] })
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(20_000)
    w.row('D01').click()
    await w.drawn()
    await w.press('I looked, it is shut')
    await w.pass(20_000)
    w.stage.live()
    await kept(w, 'ajar')
    expect(w.says('D01')).to.match(/^nobody listened until/)
    expect(w.text('.headline')).to.equal('None heard open, 4 not certain')
    await w.hear('ropewalk/d01', 'shut')
    expect(w.says('D01')).to.match(/^closed/)
  })

  it('stays at the head of the sheet when one of them opens', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    expect(w.all('.counts li')).to.deep.equal([])
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(HOUR)
    w.stage.live()
    await kept(w)
    await w.hear('ropewalk/w01', 'opened')
    expect(w.text('.headline')).to.equal('1 may be open')
    expect(w.all('.counts li')).to.deep.equal(['1 open now', '2 not certain'])
  })

  it('counts at the head of the sheet what is not certain, whatever the reason, once only', async () => {
    const w = await wall({ entries: SHUT })
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(HOUR)
    w.stage.live()
    await until('the note', () => w.text('.headline') === 'None heard open, 4 not certain')
    await w.hear('ropewalk/w01', 'opened')
    expect(w.all('.counts li')).to.deep.equal(['1 open now', '3 not certain'])
  })

  it('costs a door whose kept word comes no entry, however often the link breaks', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    const ofDoor = () => w.stage.memory.entries.filter(({ mark }) => mark === 'D01').length
    const before = ofDoor()
    for (let n = 0; n < 5; n++) {
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.pass(120_000)
      w.stage.live()
      await w.drawn()
      expect(w.says('D01')).to.match(/^nobody listened until/)
      await kept(w)
      expect(w.says('D01')).to.match(/^closed 20:47/)
    }
    w.card.remove()
    await until('the commit', () => w.stage.memory.entries.some(({ text }) => text === 'unheard'))
    expect(ofDoor()).to.equal(before)
  })

  it('is kept where no kept word of a door has come before the page ends', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(HOUR)
    w.stage.live()
    await w.drawn()
    w.card.remove()
    const again = await wall({ stage: w.stage })
    await until('the door', () => /^nobody listened until 22:47, closed/.test(again.says('D01')))
  })

  it('of which a clock that was set back hides the length may have been long', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await w.pass(30 * 60_000)
    w.stage.now -= 2 * HOUR
    w.stage.live()
    await kept(w)
    await until('the note', () => w.text('.headline') === 'None heard open, 3 not certain')
  })

  it('of the page that keeps the tally is filled by what another page heard, when that one goes on', async () => {
    const first = await forecast({ entries: [...SHUT, ...DOOR] })
    const second = await forecast({ stage: first.stage })
    const [deaf, ear] = first.stage.feeds.slice(-2)
    await until('the band', () => second.text('.bands'))
    await second.pass(5 * 60_000)
    deaf!.link({ state: 'down', since: first.stage.now })
    await second.pass(10 * 60_000)
    ear!.hear('ropewalk/w01', 'opened')
    await second.pass(10 * 60_000)
    first.card.remove()
    await until('its turn', () => second.text('.bands') === '')
    await second.drawn()
    expect(second.says('W01')).to.match(/^opened 22:02, nobody has seen it shut/)
    expect(second.text('.headline')).to.equal('1 may be open')
    // It has listened to the others all along.
    await until('its forecast', () => second.says('W02') === 'seen shut 20:47')
  })

  it('of a page that only shows the tally makes it no surer than it is', async () => {
    const first = await forecast({ entries: [...SHUT, ...DOOR] })
    const second = await forecast({ stage: first.stage })
    const [ear, deaf] = first.stage.feeds.slice(-2)
    await until('the band', () => second.text('.bands'))
    expect(second.text('.headline')).to.equal('All shut')
    deaf!.link({ state: 'down', since: first.stage.now })
    await first.pass(5 * 60_000)
    ear!.hear('ropewalk/w01', 'opened')
    await first.pass(5 * 60_000)
    deaf!.link({ state: 'live', since: first.stage.now, sessionPresent: false })
    await until('the doubt', () => second.text('.headline') === 'None heard open, 4 not certain')
    expect(first.text('.headline')).to.equal('1 may be open')
    // The one that keeps the tally has listened: its word goes on.
    first.card.remove()
    await until('its turn', () => !/^Another page/.test(second.text('.bands')))
    await until('the word', () => second.text('.headline') === '1 may be open')
    await until('its forecast', () => second.says('W02') === 'seen shut 20:47')
  })

  it('of one page is none of another that listened', async () => {
    const first = await forecast({ entries: [...SHUT, ...DOOR] })
    const second = await forecast({ stage: first.stage })
    const [deaf] = first.stage.feeds.slice(-2)
    await until('the band', () => second.text('.bands'))
    deaf!.link({ state: 'down', since: first.stage.now })
    await first.pass(5 * 60_000)
    deaf!.link({ state: 'live', since: first.stage.now, sessionPresent: false })
    await until('the note', () => first.text('.headline') === 'None heard open, 4 not certain')
    await second.drawn()
    expect(second.says('W01')).to.equal('seen shut 20:47')
  })

  it('of two pages that heard the same word leaves one word', async () => {
    const first = await forecast({ entries: [...SHUT, ...DOOR] })
    const second = await forecast({ stage: first.stage })
    await until('the band', () => second.text('.bands'))
    const word = { ...entry('W01', 0, 'opened'), id: 'late' }
    const rest = { ...entry('W01', -6.4 / 3600, 'rest'), id: 'rest' }
    const [, ear] = first.stage.feeds.slice(-2)
    ear!.hear('ropewalk/w01', 'opened')
    first.stage.now += 6_400
    ear!.hear('ropewalk/w01', 'asleep', { retain: false })
    await second.drawn()
    localStorage.setItem('sashtally late ropewalk/tally', JSON.stringify([word, rest]))
    first.card.remove()
    await until('its turn', () => second.text('.bands') === '')
    await until('the word', () => /^opened 21:47/.test(second.says('W01')))
    await until('the commit', () => first.stage.memory.entries.some(({ what }) => what === 'rest'))
    expect(first.stage.memory.entries.filter(({ mark }) => mark === 'W01').map(({ what }) => what)).to.deep.equal([
      'opened',
      'seen-closed',
      'opened',
      'rest',
    ])
  })

  it('that began before the other page was opened is one for that page too', async () => {
    const first = await forecast({ entries: [...SHUT, ...DOOR] })
    first.stage.feed.link({ state: 'down', since: first.stage.now })
    await first.pass(10 * 60_000)
    const second = await forecast({ stage: first.stage })
    await until('the band', () => second.text('.bands'))
    await kept(second)
    await second.pass(2 * 60_000)
    first.card.remove()
    await until('the note', () => second.text('.headline') === 'None heard open, 3 not certain')
    await until('its forecast', () => second.says('W01') === 'nobody listened until 21:57, seen shut 20:47')
  })

  it('is told to those who hear the sheet, in the words of the headline', async () => {
    const w = await forecast({ entries: [...SHUT, ...DOOR] })
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    await until('the sentence', () => w.text('[aria-live]') === 'Not live. None heard open when last live.')
    await w.pass(HOUR)
    w.stage.live()
    await kept(w)
    await until('the doubt', () => w.text('[aria-live]') === 'None heard open, 3 not certain.')
    await w.press(/^Last look/)
  })

  it('of a length that is not known may have been long', async () => {
    const w = await wall({ entries: [...SHUT, ...DOOR], afterGap: true })
    await kept(w)
    await until('the note', () => w.text('.headline') === 'None heard open, 3 not certain')
  })

  it('a word that waited at the broker is told with both its times', async () => {
    const waited: Entry = { ...entry('W01', 13, 'opened'), how: 'queued', until: at(9) }
    const w = await wall({ entries: [waited] })
    expect(w.says('W01')).to.match(/^opened between 08:47 and 12:47/)
  })
})
