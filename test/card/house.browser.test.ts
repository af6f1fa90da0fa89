import { expect } from 'chai'
import type { SashTally } from '../../src/card/sash-tally.ts'
import { SashTally as Card } from '../../src/card/sash-tally.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { EVENING, Stage } from './fixtures.ts'
import { HOUSE, until, wall } from './wall.ts'

async function bare(inner: string, attributes: Record<string, string> = {}): Promise<SashTally> {
  localStorage.clear()
  Card.world = new Stage().world
  const place = document.createElement('div')
  place.innerHTML = `<sash-tally lang="en">${inner}</sash-tally>`
  const card = place.firstElementChild as SashTally
  for (const [name, value] of Object.entries(attributes)) card.setAttribute(name, value)
  document.body.append(place)
  await card.updateComplete
  return card
}
const shown = (card: SashTally) => card.shadowRoot?.querySelector('.fallback')?.textContent?.replace(/\s+/g, ' ').trim()

describe('register, broker and account', () => {
  it('the children show while the register is read, and give way to the reason', async () => {
    const { fetch } = window
    window.fetch = () => new Promise(() => {})
    const slow = await bare('<p id="mine">Look at the windows yourself.</p>', { register: 'slow.yaml' })
    window.fetch = fetch
    expect(slow.querySelector('#mine')?.getBoundingClientRect().height).to.be.above(0)
    slow.parentElement?.remove()
    const card = await bare('<p id="mine">Look at the windows yourself.</p>')
    await until('the reason', () => shown(card)?.startsWith('No register is given'))
    expect(card.querySelector('#mine')?.getBoundingClientRect().height).to.equal(0)
    card.parentElement?.remove()
  })

  it('a register in JSON among the children is read', async () => {
    const json = JSON.stringify({
      house: 'Small house',
      senders: { coin: { reports: 'openings', cell: 'CR2032', words: { opened: 'opened', rest: 'asleep' } } },
      openings: [{ mark: 'W01', name: 'Kitchen', sender: 'coin' }],
    })
    const card = await bare(`<script type="application/json">${json}</script>`)
    await until('the row', () => card.shadowRoot?.querySelector('.row-open[data-mark="W01"]'))
    expect(card.shadowRoot?.querySelector('.plan'), 'nothing has a place').to.equal(null)
    card.parentElement?.remove()
  })

  it('every problem of a bad register is listed with its place', async () => {
    const card = await bare(`<script type="application/yaml">house: X\nopenings:\n  - { mark: W01 }\n</script>`)
    await until('the list', () => card.shadowRoot?.querySelector('.no-house li'))
    const lines = [...card.shadowRoot!.querySelectorAll('.no-house li')].map(each => each.textContent)
    expect(lines.length).to.be.above(1)
    expect(lines.every(line => /^\d+:\d+ /.test(line ?? ''))).to.equal(true)
    card.parentElement?.remove()
  })

  it('a register that cannot be fetched is named with the reason', async () => {
    const card = await bare('', { register: '/nowhere/none.yaml' })
    await until('the reason', () => /none\.yaml could not be read: 404/.test(shown(card) ?? ''))
    card.parentElement?.remove()
  })

  for (const attributes of [{}, { tally: 'ropewalk/tally' }] as Record<string, string>[]) {
    it(`a register that goes bad while showing is said, and changes nothing else ${JSON.stringify(attributes)}`, async () => {
      const w = await wall({ attributes })
      await w.hear('ropewalk/d01', 'shut')
      const script = w.card.querySelector('script')!
      script.textContent = '<html>Sign in</html>'
      await until('the band', () => w.text('.bands').startsWith('The list of windows cannot be read'))
      expect(w.says('D01')).to.match(/^closed/)
      expect(w.stage.feeds.map(feed => feed.closed)).to.deep.equal([false])
      expect(w.text('.link')).to.match(/^live/)
      await w.press('What the signs mean')
      expect(w.text('.house-cell'), 'for who mends it').to.match(/The register has \d+ problems?: \d+:\d+ /)
      script.remove()
      await until('the other reason', () => w.text('.house-cell').includes('No register is given'))
      await w.press('Back to the house')
      expect(w.marks()).to.have.length(4)
      w.card.append(Object.assign(document.createElement('script'), { type: 'application/yaml', textContent: HOUSE }))
      await until('no band', () => w.text('.bands') === '')
    })
  }

  it('a register at another address that cannot be read is said beside the last good one', async () => {
    const w = await wall()
    w.card.setAttribute('register', '/nowhere/none.yaml')
    await until('the band', () => w.text('.bands').startsWith('The list of windows cannot be read'))
    expect(w.marks()).to.have.length(4)
    await w.press('What the signs mean')
    expect(w.text('.house-cell')).to.include('none.yaml could not be read: 404')
  })

  it('the broker attribute goes before the register’s own address', async () => {
    const w = await wall({ attributes: { broker: 'ws://broker.lan:9001' } })
    expect(w.stage.asked.map(each => each.url)).to.deep.equal(['ws://broker.lan:9001'])
  })

  it('an address that is none is said, and never dialled', async () => {
    const stage = new Stage()
    Card.world = stage.world
    const card = await bare(`<script type="application/yaml">${HOUSE}</script>`, { broker: 'mqtt://broker.lan' })
    await until('the band', () =>
      card.shadowRoot?.querySelector('.bands')?.textContent?.includes('is no broker address'),
    )
    expect(stage.feeds).to.have.length(0)
    card.parentElement?.remove()
  })

  it('an account is asked for when the broker refuses, kept on this tablet, never in the page, and removable', async () => {
    const w = await wall({ live: false })
    w.stage.feed.link({
      state: 'refused',
      since: w.stage.now,
      why: 'the broker does not let this account in',
      account: true,
    })
    await w.drawn()
    const [user, password] = [...w.root.querySelectorAll<HTMLInputElement>('.account input')]
    user!.value = 'onlooker'
    password!.value = 'sesame'
    w.root.querySelector('form')!.requestSubmit()
    await w.drawn()
    expect(w.stage.asked.map(each => each.user)).to.deep.equal([undefined, 'onlooker'])
    expect(w.stage.feeds[0]?.closed).to.equal(true)
    expect(document.documentElement.outerHTML).to.not.include('sesame')
    expect(Object.values({ ...localStorage }).join()).to.include('sesame')
    w.stage.live()
    await w.drawn()
    expect(w.root.querySelector('.account')).to.equal(null)
    await w.press('What the signs mean')
    const sure = w.button(/^Yes, remove it/)
    expect(sure.checkVisibility(), 'one tap removes nothing').to.equal(false)
    w.root.querySelector<HTMLElement>('.asks summary')!.click()
    await w.drawn()
    expect(Object.values({ ...localStorage }).join()).to.include('sesame')
    sure.click()
    await w.drawn()
    expect(Object.values({ ...localStorage }).join()).to.not.include('sesame')
    expect(w.stage.asked.map(each => each.user)).to.deep.equal([undefined, 'onlooker', undefined])
  })

  it('a refusal that no account can help asks for none', async () => {
    const w = await wall()
    w.stage.feed.link({ state: 'down', since: w.stage.now })
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why: 'the broker is there but not ready' })
    await w.drawn()
    expect(w.text('.account')).to.equal('')
    expect(w.text('.link')).to.equal('refused: the broker is there but not ready')
  })

  it('a wrong password reads otherwise than the first question', async () => {
    const w = await wall({ live: false })
    const why = 'the broker does not know this user name and password'
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why, account: true })
    await w.drawn()
    expect(w.text('.account h2')).to.equal('This wall needs a user name and a password')
    expect(w.text('.first'), 'none was tried, so none was wrong').to.match(/^(Not live|This wall needs)/)
    expect(w.text('.strip')).to.not.include(why)
    const [user, password] = [...w.root.querySelectorAll<HTMLInputElement>('.account input')]
    user!.value = 'onlooker'
    password!.value = 'wrong'
    w.root.querySelector('form')!.requestSubmit()
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why, account: true })
    await w.drawn()
    expect(w.text('.account h2')).to.equal('User name or password was not accepted')
    expect(w.text('.strip').split('not accepted'), 'told once').to.have.length(2)
  })

  it('a German wall tells in German alone that its account was refused', async () => {
    const w = await wall({ live: false, attributes: { lang: 'de' } })
    const refuse = async () => {
      const why = 'the broker does not let this account in'
      w.stage.feed.link({ state: 'refused', since: w.stage.now, why, account: true })
      await w.drawn()
    }
    await refuse()
    w.root.querySelector<HTMLInputElement>('.account input')!.value = 'onlooker'
    w.root.querySelector('form')!.requestSubmit()
    await refuse()
    await w.press('Was die Zeichen bedeuten')
    const wrong = 'Benutzername oder Passwort wurde nicht angenommen'
    expect(w.text('.account h2')).to.equal(wrong)
    expect(w.text('.link-cell')).to.include(wrong)
    expect(w.root.textContent).to.not.include('the broker')
  })

  it('what the broker does not let this account read is said in a house without a keeper', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    const why = 'the broker does not let this account read ropewalk/tally/heard/+'
    w.stage.feed.link({ state: 'refused', since: w.stage.now, why, filters: ['ropewalk/tally/heard/+'] })
    await w.drawn()
    expect(w.text('.bands')).to.equal('Live in part: this wall may not read everything.')
    await w.press('What the signs mean')
    expect(w.text('.link-cell'), 'for who mends it').to.include(why)
  })

  it('a link over which nothing at all comes is said after 20 s', async () => {
    const w = await wall()
    await w.pass(19_000)
    expect(w.text('.bands')).to.equal('')
    await w.pass(2_000)
    expect(w.text('.bands')).to.match(/^Nothing at all has been heard: .* this account may not read the contacts/)
    await w.hear('ropewalk/w01', 'asleep', { retain: true })
    expect(w.text('.bands')).to.equal('')
  })

  it('a store that fails is said, and the tally goes on', async () => {
    const stage = new Stage()
    Card.world = {
      ...stage.world,
      store: () => ({
        load: () => Promise.reject(new Error('no')),
        all: async () => [],
        since: async () => undefined,
        commit: () => Promise.reject(new Error('no')),
        close: async () => {},
      }),
    }
    localStorage.clear()
    const place = document.body.appendChild(document.createElement('div'))
    place.innerHTML = `<sash-tally lang="en"></sash-tally>`
    const script = Object.assign(document.createElement('script'), { type: 'application/yaml', textContent: HOUSE })
    place.firstElementChild!.append(script)
    const card = place.firstElementChild as SashTally
    await until('the sheet', () => card.shadowRoot?.querySelector('.frame'))
    stage.live()
    stage.feed.hear('ropewalk/w01', 'opened')
    await until('the word', () => /1 may be open/.test(card.shadowRoot?.querySelector('.headline')?.textContent ?? ''))
    expect(card.shadowRoot?.querySelector('.bands')?.textContent).to.include('cannot keep its tally')
    place.remove()
  })

  it('a first word that comes later than it did is an early warning, on the row and in the story', async () => {
    const entries = [3.6, 3.7, 3.65, 3.8, 3.9, 4.1, 4.5, 4.8, 5.4, 6].map(
      (seconds, n): Entry => ({
        id: `p${n}`,
        at: new Date(EVENING - (20 - n) * 86_400_000).toISOString(),
        mark: 'W01',
        what: 'proved',
        how: 'live',
        joinMilliseconds: seconds * 1000,
      }),
    )
    const w = await wall({ entries })
    const row = w.root.querySelector<HTMLElement>('.row-open[data-mark="W01"]')!
    await until('the forecast', () => row.querySelector('.say')?.textContent?.includes('early warning'))
    expect(w.root.querySelector('.row-open[data-mark="W02"] .say')?.textContent).not.to.include('early warning')
    row.click()
    await until('the story', () => w.root.querySelector('.story .warning'))
    expect(w.text('.story .warning')).to.match(/in 10 timed tests .* 46 % longer.* test it/)
    // Its cell was fitted in spring, says the register, before this tablet counted.
    expect(w.text('.story')).to.match(/counted since .*; what it may have sent before is a guess/)
  })

  it('what a cell has left is told in openings, its tally in sends, with what that rests on', async () => {
    const register = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://127.0.0.1:1883', websocket: 'ws://127.0.0.1:9001' }
tally: ropewalk/tally
senders:
  both: { reports: both, cell: CR2032, words: { opened: o, closed: c, gone: g }, load: cold-join }
  gentle: { reports: openings, cell: CR2450, words: { opened: o, rest: r }, load: [{ milliamps: 60, milliseconds: 3000 }] }
openings:
  - { mark: W01, name: Dye room, sender: both }
  - { mark: W02, name: Press room, sender: gentle }
`
    const fitted = ['W01', 'W02'].map(
      (mark): Entry => ({
        id: `c${mark}`,
        at: new Date(EVENING - 86_400_000).toISOString(),
        mark,
        what: 'cell-fitted',
        how: 'live',
      }),
    )
    const w = await wall({ register, entries: fitted })
    const told = (mark: string): string =>
      w.root.querySelector(`.row-open[data-mark="${mark}"] .left`)?.textContent?.replace(/\s+/g, ' ').trim() ?? ''
    const gates = (): string => w.root.querySelector('.story .gates svg')?.getAttribute('aria-label') ?? ''
    await until('the forecast', () => told('W01').includes('left'))
    expect(told('W01')).to.match(/^10 left \([34] to 2\d\)$/)
    expect(told('W02')).to.match(/^\d+ or more left \(\d+ at worst\)$/)
    w.row('W01').click()
    await until('the tally', () => gates() !== '')
    expect(gates()).to.match(/^0 sent, about (19|20|21) left/)
    w.root.querySelector<HTMLElement>('.row-open[data-mark="W02"]')!.click()
    await until('the story', () => w.text('.story').includes('rests on assumptions'))
  })

  it('a press without a pointer counts as a touch: the story stays', async () => {
    const w = await wall()
    await w.pass(11 * 60_000)
    w.stage.live()
    w.root.querySelector<HTMLElement>('.row-open[data-mark="W02"]')!.click()
    await until('the story', () => w.root.querySelector('.story'))
    document.dispatchEvent(new Event('visibilitychange'))
    await w.drawn()
    expect(w.root.querySelector('.story')).to.not.equal(null)
  })

  it('back from a story leads to the view that the attribute wants, and the focus to its row', async () => {
    const w = await wall({ attributes: { view: 'schedule' } })
    expect(w.root.querySelector('.frame.list-only')).to.not.equal(null)
    w.root.querySelector<HTMLElement>('.row-open[data-mark="W02"]')!.click()
    await until('the story', () => w.root.querySelector('.story'))
    await w.press('Back to the house')
    await until('the list', () => w.root.querySelector('.frame.list-only'))
    await until('the focus', () => (w.root.activeElement as HTMLElement | null)?.dataset.mark === 'W02')
  })

  it('paper holds house and schedule whatever view is open, and text of a topic turns nothing round', async () => {
    const w = await wall({ attributes: { view: 'schedule' } })
    w.stage.feed.hear('ropewalk/w02', '\u202Eneht')
    await until('the odd word', () => w.root.querySelector('.odd'))
    expect(w.text('.odd')).to.match(/\u2068\uFFFDneht\u2069/)
    w.root.querySelector<HTMLElement>('.row-open[data-mark="W02"]')!.click()
    await until('the story', () => w.root.querySelector('.story'))
    dispatchEvent(new Event('beforeprint'))
    expect(w.root.querySelector('.frame.both .plan svg')).to.not.equal(null)
    expect(w.root.querySelectorAll('.row').length).to.equal(4)
    expect(w.root.querySelector('.story')).to.equal(null)
    dispatchEvent(new Event('afterprint'))
    await until('the story again', () => w.root.querySelector('.story'))
  })

  it('whoever presses keys goes on where they were: the next to tick, the way back, what was said', async () => {
    const w = await wall()
    await w.leaveOpen('w01', 'w02')
    const pressed = async (label: string | RegExp): Promise<Element | null> => {
      w.button(label).focus()
      await w.press(label)
      return w.root.activeElement
    }
    expect((await pressed(/^Last look/))?.id).to.equal('last-look-title')
    // The last of the list: what can be ticked in the other one is folded away.
    w.root.querySelector<HTMLDetailsElement>('.uncertain')!.open = false
    const last = [...w.root.querySelectorAll<HTMLElement>('.floors .ticks .tick-act')].at(-1)!
    last.focus()
    last.click()
    await w.drawn()
    await w.drawn()
    expect(w.root.activeElement?.closest('.tick')?.textContent).to.include('W01')
    expect((await pressed('It is shut'))?.className).to.include('deed')
    expect((await pressed('Back to the house'))?.getAttribute('data-way')).to.equal('last-look')
    await w.leaveOpen('w03')
    expect((await pressed(/^I looked/))?.className).to.include('deed')
    await until('the way back', () => w.root.querySelector('.undo'))
    expect((await pressed('Take back'))?.className, 'the next press says nothing').to.include('headline')
    expect((await pressed('Walk and test'))?.id).to.equal('round-title')
    expect((await pressed('Start the walk'))?.id).to.equal('round-title')
    expect((await pressed(/^End the walk/))?.id).to.equal('round-title')
  })

  it('a name without a break makes the sheet no wider than its place', async () => {
    const long = 'Ropewalk'.repeat(24)
    for (const size of [
      [320, 568],
      [1280, 800],
    ] as const) {
      const w = await wall({ size, register: HOUSE.replace('house: Ropewalk Studios', `house: ${long}`) })
      await until('the name', () => w.text('.house-name').includes(long))
      const sheet = w.root.querySelector('.sheet')!
      expect(sheet.scrollWidth).to.be.at.most(sheet.clientWidth)
      w.card.remove()
    }
  })

  describe('of hundreds', () => {
    const sides = ['south', 'east', 'north', 'west']
    const openings = Array.from(
      { length: 300 },
      (_, n) => `  - { mark: W${n}, name: Window ${n}, sender: coin, at: { side: ${sides[n % 4]}, floor: ${n % 3} } }`,
    )
    const register = `${HOUSE.slice(0, HOUSE.indexOf('openings:'))}openings:\n${openings.join('\n')}\n`
    const rowsOf = (card: SashTally): number => card.shadowRoot?.querySelectorAll('.row').length ?? 0

    it('is printed on as many sheets as keep its windows readable, with every row', async () => {
      const w = await wall({ register })
      dispatchEvent(new Event('beforeprint'))
      const sheets = [...w.root.querySelectorAll('.plan-drawing > svg')]
      expect(sheets.length).to.be.greaterThan(1)
      for (const sheet of sheets) expect(Number(sheet.getAttribute('height'))).to.be.at.most(900)
      expect(w.root.querySelectorAll('.plan-drawing .opening').length).to.equal(300)
      expect(rowsOf(w.card)).to.equal(300)
      dispatchEvent(new Event('afterprint'))
    })

    it('gets its rows 250 in a drawing, in their order', async () => {
      const prototype = Card.prototype as unknown as { performUpdate(): void }
      const { performUpdate } = prototype
      // The walls of tests before may still draw.
      const drawings: { readonly card: object; readonly rows: number }[] = []
      prototype.performUpdate = function (this: SashTally & typeof prototype) {
        performUpdate.call(this)
        drawings.push({ card: this, rows: rowsOf(this) })
      }
      try {
        const w = await wall({ register })
        await until('every row', () => rowsOf(w.card) === 300)
        const counts = [0, ...drawings.filter(({ card }) => card === w.card).map(({ rows }) => rows)]
        const steps = counts.slice(1).map((count, index) => count - counts[index]!)
        expect(Math.max(...steps)).to.equal(250)
        const marks = [...w.root.querySelectorAll<HTMLElement>('.row-open')].map(({ dataset }) => dataset.mark)
        expect(marks).to.deep.equal(openings.map((_, n) => `W${n}`))
      } finally {
        prototype.performUpdate = performUpdate
      }
    })
  })

  it('bad attribute values fall back', async () => {
    const w = await wall({ attributes: { view: 'nonsense', sheet: 'glass', sort: 'luck', lang: 'xx-nowhere' } })
    expect(w.root.querySelector('.sheet.auto')).to.not.equal(null)
    expect(w.root.querySelector('select')?.value).to.equal('urgency')
    expect(w.root.querySelector('.plan')).to.not.equal(null)
    expect(w.text('.headline')).to.match(/None heard open/)
  })

  it('speaks the language around it through the shadow roots that it stands in', async () => {
    const w = await wall()
    const outer = document.createElement('div')
    outer.setAttribute('lang', 'de')
    const inner = document.createElement('div')
    outer.attachShadow({ mode: 'open' }).append(inner)
    w.card.parentElement!.append(outer)
    w.card.removeAttribute('lang')
    inner.attachShadow({ mode: 'open' }).append(w.card)
    await w.drawn()
    expect(w.root.querySelector('.sheet')?.getAttribute('lang')).to.equal('de')
  })

  it('speaks German where the page does', async () => {
    const w = await wall({ attributes: { lang: 'de-AT' } })
    await w.hear('ropewalk/w01', 'opened')
    expect(w.text('.headline')).to.equal('1 vielleicht offen')
    expect(w.says('W01')).to.equal('offen seit 21:47')
  })
})
