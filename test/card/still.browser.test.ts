import { expect } from 'chai'
import { EVENING, eveningEntries } from './fixtures.ts'
import { until, type Wall, wall } from './wall.ts'

const ropewalk = async () => await (await fetch('/examples/ropewalk.yaml')).text()
const TALLY = 'ropewalk/tally'
const iso = (at: number) => new Date(at).toISOString()

/** Where each of these begins, and how high it is: what stands there may change, its place may not. */
const STILL = ['.strip', '.plan svg', '.list', '.acts', '.house-box', '.way', '.title-block', '.body']

interface Places {
  readonly [what: string]: readonly number[]
}

const rounded = (...lengths: readonly number[]) => lengths.map(Math.round)

/** All that must not move, on the screen. */
function placesOf(w: Wall): Places {
  const places: Record<string, readonly number[]> = {}
  for (const selector of STILL) {
    for (const [index, element] of [...w.root.querySelectorAll(selector)].entries()) {
      const { left, top, width, height } = element.getBoundingClientRect()
      // On a phone the sheet scrolls: how long its list is, and what lies under it, is no place.
      const isScrolled = isPhone(w) && ['.list', '.body', '.title-block'].includes(selector)
      places[`${selector} ${index}`] = isScrolled ? rounded(left, width) : rounded(left, top, width, height)
    }
  }
  const headline = w.root.querySelector('.headline')!.getBoundingClientRect()
  places.headline = rounded(headline.left, headline.bottom)
  const row = w.root.querySelector('.row')!.getBoundingClientRect()
  places['first row'] = rounded(row.left, row.top, row.height)
  for (const opening of w.root.querySelectorAll('g.opening')) {
    const { left, top, width, height } = opening.querySelector('.hit')!.getBoundingClientRect()
    places[opening.getAttribute('data-mark')!] = rounded(left, top, width, height)
  }
  for (const [index, side] of [...w.root.querySelectorAll('text.caption')].entries()) {
    const { left, bottom } = side.getBoundingClientRect()
    places[`side ${index}`] = rounded(left, bottom)
  }
  return places
}

const isPhone = ({ card }: Wall): boolean => card.clientWidth < 600

/** Fails on the first that is elsewhere than before. */
function expectStill(before: Places, w: Wall, after: string): void {
  const now = placesOf(w)
  // A phone shows one side at a time, and turns to the next while nobody touches it.
  const shared = ([what]: [string, unknown]) => !isPhone(w) || (what in now && what in before)
  const [there, here] = [before, now].map(places => Object.fromEntries(Object.entries(places).filter(shared)))
  expect(Object.keys(here!).length, after).to.be.above(isPhone(w) ? 12 : 30)
  expect(here, after).to.deep.equal(there)
}

const SIZES = [
  [1024, 600],
  [1280, 800],
  [768, 1024],
  [1920, 1080],
  [360, 740],
] as const

for (const [width, height] of SIZES) {
  describe(`what must never move, at ${width} x ${height}`, () => {
    it('stands still whatever is said, answered, taken back, heard or lost', async () => {
      const w = await wall({
        register: await ropewalk(),
        entries: eveningEntries(),
        size: [width, height],
      })
      await until('the schedule', () => w.root.querySelector('.row'))
      await w.hear('ropewalk/w03', 'asleep', { retain: true })
      const before = placesOf(w)
      const still = (after: string) => expectStill(before, w, after)
      await w.press(/^I looked, these 3/)
      still('noted')
      await w.press('Take back')
      still('taken back')
      await w.hear('ropewalk/d01', 'shut')
      still('a door shut')
      await w.leaveOpen('w05', 'w06', 'w07', 'w08')
      expect(w.text('.house-box')).to.match(/7 to look at: floor by floor/)
      still('more than six')
      w.stage.feed.hear('ropewalk/w03', 'who is this, and why does it say such a long word')
      await w.drawn()
      still('an unknown word')
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.pass(600_000)
      expect(w.text('.bands')).to.include('Not live')
      still('the link down')
      w.stage.live()
      w.stage.set = 3_600_000
      await w.pass(2_000)
      expect(w.text('.bands')).to.include('clock')
      still('a clock that was set')
    })

    it('stands still while a keeper answers, refuses, is silent or says something', async () => {
      const w = await wall({
        register: await ropewalk(),
        entries: eveningEntries(),
        size: [width, height],
        attributes: { 'may-say': '' },
      })
      const keeper = (problem?: string) =>
        w.hear(
          `${TALLY}/keeper`,
          JSON.stringify({ v: 1, state: 'live', beat: iso(w.stage.now), since: iso(EVENING - 86_400_000), problem }),
        )
      const reading = (mark: string, position: string) =>
        w.hear(
          `${TALLY}/opening/${mark}`,
          JSON.stringify({
            v: 1,
            mark,
            name: mark,
            position,
            since: iso(w.stage.now - 3_600_000),
            doubts: [],
            openings: 7,
            sends: 7,
            asOf: iso(w.stage.now),
          }),
        )
      const answer = async (more: object) => {
        const { payload } = w.stage.feed.published.at(-1)!
        await w.hear(`${TALLY}/heard/${JSON.parse(payload).id}`, JSON.stringify({ v: 1, ...more }))
      }
      await keeper()
      await reading('D01', 'open')
      await reading('W02', 'opened')
      await until('the schedule', () => w.root.querySelector('.row'))
      const before = placesOf(w)
      const still = (after: string) => expectStill(before, w, after)
      await w.press('I looked, it is shut')
      expect(w.text('.house-box .deed')).to.equal('Telling the keeper …')
      still('on its way')
      await answer({ ok: false, problem: 'the disk is full' })
      expect(w.text('.house-box .deed')).to.include('the disk is full')
      still('refused')
      await w.press('I looked, it is shut')
      await answer({ ok: true })
      await reading('W02', 'closed')
      expect(w.text('.house-box')).to.match(/^W02 seen shut, noted|^Shut D01/)
      still('noted')
      await keeper(
        'words between 20:47 and 21:47 are not here, and this sentence goes on for longer than the strip is wide',
      )
      still('a problem of the keeper')
      await w.pass(180_000)
      still('the keeper silent')
    })
  })
}

it('a box that has changed what it says takes no touch until it was read: a list of marks takes longer', async () => {
  const { now } = performance
  let at = performance.now()
  performance.now = () => at
  try {
    const w = await wall()
    await w.leaveOpen('w01')
    const tap = async (selector: string) => {
      w.root
        .querySelector(selector)!
        .dispatchEvent(new MouseEvent('click', { detail: 1, bubbles: true, composed: true, cancelable: true }))
      await w.drawn()
    }
    at += 1400
    await tap('.house-box .great-act')
    expect(w.text('.house-box .deed'), 'the marks are being read').to.equal('')
    at += 200
    await tap('.house-box .great-act')
    expect(w.text('.house-box .deed')).to.match(/^W01 seen shut, noted/)
    at += 400
    await tap('.house-box .undo')
    expect(w.text('.house-box .deed'), 'too soon').to.match(/^W01 seen shut, noted/)
    at += 200
    await tap('.house-box .undo')
    expect(w.text('.house-box .deed')).to.equal('Taken back.')
  } finally {
    performance.now = now
  }
})

it('the bold act names its marks, and never speaks for what a contact itself reports', async () => {
  const w = await wall()
  await w.hear('ropewalk/d01', 'ajar')
  await w.leaveOpen('w01', 'w02')
  expect(w.text('.great-act')).to.equal('I looked, these 2 are shut W01, W02. Not D01: open now.')
  await w.press('I looked, these 2 are shut')
  expect(w.says('D01')).to.match(/^open since/)
  expect(w.text('.headline')).to.equal('1 may be open')
})

it('one key leads past the house and its list', async () => {
  const w = await wall()
  await w.leaveOpen('w01')
  w.button('Past the house and its list').click()
  expect(w.root.activeElement?.className).to.include('great-act')
})

it('“All shut” names who looked, as the says were signed', async () => {
  const w = await wall({ attributes: { by: 'Hall' } })
  await w.hear('ropewalk/d01', 'shut')
  await w.leaveOpen('w01', 'w02', 'w03')
  await w.press('I looked, these 3 are shut')
  expect(w.text('.calm b')).to.equal('seen shut 21:47 by Hall')
  expect(w.text('.calm span')).to.match(/^3 were looked at, 21:47, 1 says itself/)
  const looks = w.stage.memory.entries.filter(({ what }) => what === 'seen-closed')
  expect(looks.map(({ by }) => by)).to.deep.equal(['Hall', 'Hall', 'Hall'])
})

it('“All shut” is stamped with the time, and says in one sentence what it rests on', async () => {
  const w = await wall()
  const top = () => w.root.querySelector('.strip')!.getBoundingClientRect().top
  const before = top()
  await w.hear('ropewalk/d01', 'shut')
  await w.leaveOpen('w01', 'w02', 'w03')
  await w.press('I looked, these 3 are shut')
  expect(w.text('.headline.stamp')).to.equal('All shut')
  expect(w.text('.calm')).to.equal(
    'seen shut 21:47 3 were looked at, 21:47, 1 says itself that it is shut, every contact has spoken within its time, and nothing has been heard to open since.',
  )
  expect(top(), 'nothing under it has moved').to.equal(before)
  await w.hear('ropewalk/d01', 'ajar')
  expect(w.text('.headline')).to.equal('1 may be open')
  expect(w.text('.calm')).to.equal('')
  await w.pass(11 * 60_000)
  expect(w.text('.house-box')).to.match(/^Shut D01 ?It says so itself/)
})
