import { expect } from 'chai'
import { HOUSE, type Wall, wall } from './wall.ts'

const MINUTE = 60_000
const HOUR = 60 * MINUTE
const DAY = 24 * HOUR

const REGISTER = HOUSE.replace('Europe/Lisbon', 'Europe/Berlin\nprovenWithinDays: 60')

const hungUpAt = (local: string, lang = 'en') =>
  wall({ register: REGISTER, now: Date.parse(local), attributes: { lang } })

/** Opened, asleep again when the last will is due, and shut by nobody's word. */
async function open(w: Wall, contact: string): Promise<void> {
  await w.hear(`ropewalk/${contact}`, 'opened')
  await w.pass(8_000)
  await w.hear(`ropewalk/${contact}`, 'asleep', { retain: true })
}

/** Strokes and bars on the lines of the day. */
const drawnToday = (w: Wall) => w.root.querySelectorAll('.today :is(.sent, .solid, .open-void)').length

describe('the words of the calendar', () => {
  it('midnight: what was opened today has its weekday, and the line of the day begins anew', async () => {
    const w = await hungUpAt('2026-11-25T22:29:00+01:00')
    await open(w, 'w01')
    await w.pass(2 * MINUTE)
    expect(w.says('W01')).to.equal('opened 22:29, nobody has seen it shut')
    expect(w.root.querySelector('.sheet.night'), 'nobody touches it at bedtime').to.not.equal(null)
    expect(w.text('.date')).to.match(/^Wed,? 25 November$/)
    expect(drawnToday(w)).to.equal(1)
    await w.pass(89 * MINUTE)
    expect(w.text('.time')).to.match(/^00:00 Thu,? 26 November$/)
    expect(w.says('W01')).to.equal('opened Wed 22:29, nobody has seen it shut')
    expect(drawnToday(w)).to.equal(0)
    await w.pass(7 * DAY)
    expect(w.says('W01')).to.equal('opened 25 Nov 22:29, nobody has seen it shut')
  })

  it('the first of a month: the story has that month, and the old one keeps its openings', async () => {
    const w = await hungUpAt('2026-11-30T23:40:00+01:00')
    await open(w, 'w01')
    /** Thirteen letters, before each the count of its month. */
    const months = async () => {
      w.row('W01').click()
      await w.drawn()
      const text = w.text('.story .figures')
      await w.press('Back to the house')
      return /\d*(?:\d*[A-Z]){13}/.exec(text)?.[0]
    }
    expect(await months()).to.match(/^NDJFMAMJJASO1N$/)
    await w.pass(30 * MINUTE)
    expect(w.text('.date')).to.match(/^Tue,? 1 December$/)
    expect(await months()).to.match(/^DJFMAMJJASO1ND$/)
  })

  it('new year: what is older than a week has its year', async () => {
    const w = await hungUpAt('2026-12-31T23:55:00+01:00')
    await open(w, 'w01')
    await w.pass(10 * MINUTE)
    expect(w.says('W01')).to.equal('opened Thu 23:55, nobody has seen it shut')
    await w.pass(8 * DAY)
    expect(w.says('W01')).to.equal('opened 31 Dec 2026, 23:55, nobody has seen it shut')
    await w.pass(60 * DAY)
    await w.press(/^I looked/)
    expect(w.says('W01')).to.match(/^not tested since December 2026, seen shut /)
  })

  for (const [lang, summer, winter] of [
    ['en', 'CEST', 'CET'],
    ['de', 'MESZ', 'MEZ'],
  ] as const) {
    it(`the end of summer time: of the hour that comes twice it is said which (${lang})`, async () => {
      const w = await hungUpAt('2026-10-25T02:50:00+02:00', lang)
      await w.hear('ropewalk/d01', 'shut')
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.pass(30 * MINUTE)
      expect(w.text('.clock')).to.equal(`02:20 ${winter}`)
      expect(w.text('.strip .first')).to.include(`02:50 ${summer}`)
      w.stage.live()
      await w.drawn()
      expect(w.says('D01')).to.include(`02:20 ${winter}`)
      expect(w.says('D01')).to.include(`02:50 ${summer}`)
      await w.pass(HOUR)
      expect(w.text('.clock')).to.equal('03:20')
      await open(w, 'w01')
      expect(w.says('W01')).to.match(/03:20/)
    })
  }

  it('the begin of summer time: half an hour is half an hour, and the day has 23', async () => {
    const w = await hungUpAt('2027-03-28T01:50:00+01:00')
    await open(w, 'w01')
    await w.pass(30 * MINUTE)
    expect(w.text('.clock')).to.equal('03:20')
    expect(w.says('W01')).to.equal('opened 01:50, nobody has seen it shut')
    w.row('W01').click()
    await w.drawn()
    expect(w.text('.story > .say')).to.include('30 min')
    await w.press('Back to the house')
    await w.pass(20 * HOUR + 45 * MINUTE)
    expect(w.text('.time')).to.match(/^00:05 Mon,? 29 March$/)
  })

  it('a month of evenings: each ends with "All shut" and says when; each morning says which evening', async () => {
    const w = await hungUpAt('2026-12-10T07:00:00+01:00')
    for (let day = 0; day < 30; day++) {
      const at = (hour: number) => Date.parse('2026-12-10T00:00:00+01:00') + day * DAY + hour * HOUR
      await w.pass(at(8) - w.stage.now)
      await w.hear('ropewalk/d01', 'ajar')
      await w.hear('ropewalk/d01', 'shut')
      for (const contact of ['w01', 'w02', 'w03']) await open(w, contact)
      expect(w.text('.headline'), `day ${day}`).to.equal('3 may be open')
      await w.pass(at(22) - w.stage.now)
      await w.press('I looked, these 3 are shut')
      expect(w.text('.headline'), `day ${day}`).to.equal('All shut')
      expect(w.text('.calm b')).to.equal('seen shut 22:00')
      await w.pass(at(31) - w.stage.now)
      expect(w.text('.headline'), `night ${day}`).to.equal('All shut')
      expect(w.text('.calm b')).to.match(/^seen shut (Mon|Tue|Wed|Thu|Fri|Sat|Sun) 22:00$/)
      expect(w.text('.bands')).to.equal('')
    }
    expect(w.text('.date')).to.match(/^Sat,? 9 January$/)
  })
})
