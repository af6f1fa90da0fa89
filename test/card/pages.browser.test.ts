import { expect } from 'chai'
import { MemoryStore } from './fixtures.ts'
import { HOUSE, until, type Wall, wall } from './wall.ts'

const OTHER = /^Another page on this tablet keeps this house’s tally/

/** Each word comes to every page of the tablet. */
async function hearBoth(walls: readonly Wall[], topic: string, payload: string): Promise<void> {
  for (const feed of walls[0]!.stage.feeds.slice(-walls.length)) feed.hear(topic, payload)
  for (const each of walls) await each.drawn()
}

async function twoPages(): Promise<readonly [Wall, Wall]> {
  const first = await wall()
  const second = await wall({ stage: first.stage })
  await until('the band', () => OTHER.test(second.text('.bands')))
  expect(first.text('.bands')).to.equal('')
  return [first, second]
}

async function oneKeepsTheTally(): Promise<void> {
  const [first, second] = await twoPages()
  const { memory } = first.stage
  await hearBoth([first, second], 'ropewalk/w01', 'opened')
  await hearBoth([first, second], 'ropewalk/w02', 'opened')
  await until('the commit', () => memory.ledger?.marks.W02)
  expect(memory.entries.map(({ mark, what }) => `${mark} ${what}`)).to.deep.equal(['W01 opened', 'W02 opened'])
  expect(second.text('.headline')).to.equal('2 may be open')

  await second.pass(20_000)
  await second.press(/^I looked, these 2 are shut/)
  expect(second.text('.deed')).to.equal('Not possible on this page: another one keeps the tally.')
  expect(memory.entries).to.have.length(2)

  first.row('W01').click()
  await first.drawn()
  await first.press('I looked, it is shut')
  await until('the word at the other page', () => second.says('W01') === 'seen shut 21:47')
  await until('the commit', () => memory.ledger?.marks.W01?.fold.state === 'closed')
  // Only the page that stays hears this: the other went without having kept it.
  second.stage.feed.hear('ropewalk/w03', 'opened')

  first.card.remove()
  await until('its turn', () => second.text('.bands') === '')
  // What it read anew is not certain until it is forecast.
  await until('the forecast', () => second.says('W01') === 'seen shut 21:47')
  await second.pass(20_000)
  await second.press(/^I looked, these 2 are shut/)
  expect(second.text('.deed')).to.match(/^2 seen shut, noted/)
  await until('the commit', () => memory.ledger?.marks.W03?.fold.state === 'closed')
  expect(memory.entries.filter(({ what }) => what === 'opened')).to.have.length(3)
  expect(memory.entries.filter(({ what }) => what === 'seen-closed')).to.have.length(3)
}

/** A promise and what ends it. */
function later(): { promise: Promise<void>; resolve: () => void } {
  let resolve = () => {}
  const promise = new Promise<void>(done => {
    resolve = done
  })
  return { promise, resolve }
}

interface Inner extends Window {
  readonly sashtally?: { hear(topic: string, payload: string): void; text(selector: string): string }
}

/** A page of its own, with the browser's own store, on which the card stands. */
function page(register: string): { readonly inside: () => Inner['sashtally']; end(): void } {
  const frame = document.createElement('iframe')
  frame.srcdoc = `<!doctype html><body><sash-tally lang="en"><script type="application/yaml">${register}</script></sash-tally>
    <script type="module">
      import { SashTally } from '/src/card/sash-tally.ts'
      import { browserStore } from '/src/card/effects/browser-store.ts'
      let listener
      const feed = () => ({
        open(given) {
          listener = given
          listener.link({ state: 'live', since: Date.now(), sessionPresent: false })
        },
        listen() {},
        publish: async () => {},
        close: async () => {},
      })
      SashTally.world = { feed, store: browserStore, now: () => Date.now(), elapsed: () => performance.now() }
      customElements.define('sash-tally', SashTally)
      const root = () => document.querySelector('sash-tally').shadowRoot
      window.sashtally = {
        hear: (topic, payload) =>
          listener.heard({ topic, payload: new TextEncoder().encode(payload), retain: false, dup: false, qos: 1 }),
        text: selector => root().querySelector(selector)?.textContent ?? '',
      }
    </script>`
  document.body.append(frame)
  return { inside: () => (frame.contentWindow as Inner | null)?.sashtally, end: () => frame.remove() }
}

describe('one house on several pages of a tablet', () => {
  it('one page keeps the tally, the other shows it, says so, and goes on when the first has gone', oneKeepsTheTally)

  it('on a page over http, which has no locks, too', async () => {
    Object.defineProperty(navigator, 'locks', { value: undefined, configurable: true })
    try {
      await oneKeepsTheTally()
    } finally {
      Reflect.deleteProperty(navigator, 'locks')
    }
  })

  it('what else is said among the pages is no word of theirs', async () => {
    const { openTabLock } = await import('../../src/card/effects/tab-lock.ts')
    const said: string[] = []
    const page = openTabLock('strangers', { turn: () => {}, said: ({ id }) => said.push(id) })
    const outside = new BroadcastChannel('sashtally strangers')
    for (const word of [
      'hello',
      null,
      7,
      [],
      { entry: null },
      { entry: { id: 'a' } },
      { what: 'mine' },
      { what: 'all' },
    ])
      outside.postMessage(word)
    const entry = { id: 'b', at: '2026-06-01T08:00:00.000Z', mark: 'W01', what: 'seen-closed', how: 'live' }
    outside.postMessage({ entry })
    await until('the entry', () => said.length > 0)
    expect(said).to.deep.equal(['b'])
    outside.close()
    page.drop()
  })

  it('of pages that open at once over http exactly one keeps it, and a page that was frozen gives way', async () => {
    Object.defineProperty(navigator, 'locks', { value: undefined, configurable: true })
    try {
      const { openTabLock } = await import('../../src/card/effects/tab-lock.ts')
      const turns: string[] = []
      const take = (name: string) =>
        openTabLock('crowd', { turn: writes => turns.push(`${name} ${writes ? 'writes' : 'reads'}`), said: () => {} })
      const pages = ['a', 'b', 'c', 'd'].map(take)
      await until('all of them', () => turns.length === 4)
      expect(turns.filter(turn => turn.endsWith('writes'))).to.have.length(1)
      const writer = turns.find(turn => turn.endsWith('writes'))![0]!
      const outside = new BroadcastChannel('sashtally crowd')
      outside.postMessage({ what: 'mine', from: 'another' })
      await until('the way', () => turns.at(-1) === `${writer} reads`)
      outside.close()
      for (const page of pages) page.drop()
    } finally {
      Reflect.deleteProperty(navigator, 'locks')
    }
  })
})

describe('the tablet’s own tally', () => {
  it('a kept unknown word counts once, however often the link is made', async () => {
    const w = await wall()
    for (let link = 0; link < 5; link++) {
      await w.hear('ropewalk/w01', 'hello', { retain: true })
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.pass(60_000)
      w.stage.live()
    }
    expect(w.row('W01').querySelector('.odd')?.textContent).to.equal('1 unknown word, last “\u2068hello\u2069”')
    await w.hear('ropewalk/w01', 'good-bye', { retain: true })
    expect(w.row('W01').querySelector('.odd')?.textContent).to.equal('2 unknown words, last “\u2068good-bye\u2069”')
  })

  it('a word heard while the store opens keeps its time', async () => {
    const first = await wall()
    first.card.remove()
    const { stage } = first
    const { promise, resolve } = later()
    const load = stage.memory.load.bind(stage.memory)
    stage.memory.load = () => promise.then(load)
    const place = document.body.appendChild(document.createElement('div'))
    place.append(first.card)
    await until('the link', () => stage.feeds.length === 2)
    stage.live()
    stage.feed.hear('ropewalk/w01', 'opened')
    stage.now += 180_000
    resolve()
    await until(
      'the word',
      () => first.root.querySelector('.row-open') && first.says('W01') !== 'never tried yet, no word yet',
    )
    expect(first.says('W01')).to.match(/^opened 21:47/)
    place.remove()
  })

  it('what could not be kept is kept with the next words, and the sheet says both', async () => {
    const w = await wall()
    const commit = MemoryStore.prototype.commit.bind(w.stage.memory)
    w.stage.memory.commit = () => Promise.reject(new Error('the disk is full'))
    await w.hear('ropewalk/w01', 'opened')
    await until('the band', () => w.text('.bands').includes('cannot keep its tally'))
    w.stage.memory.commit = commit
    await w.hear('ropewalk/w02', 'opened')
    await until('the end of the band', () => w.text('.bands') === '')
    expect(w.stage.memory.entries.map(({ mark }) => mark)).to.deep.equal(['W01', 'W02'])
  })

  it('words of the last moment outlive a reload that the store does not', async () => {
    const first = await wall()
    const { stage } = first
    const { promise, resolve } = later()
    stage.memory.commit = () => promise
    await first.hear('ropewalk/w01', 'opened')
    window.dispatchEvent(new PageTransitionEvent('pagehide'))
    resolve()
    first.card.remove()
    stage.memory.commit = MemoryStore.prototype.commit.bind(stage.memory)
    stage.now += 60_000
    const w = await wall({ stage })
    await until('the word', () => /^opened 21:47/.test(w.says('W01')))
    await until('the commit', () => stage.memory.ledger?.marks.W01?.fold.openings === 1)
    const again = await wall({ stage })
    expect(again.says('W01')).to.match(/^opened 21:47/)
    expect(stage.memory.entries.filter(({ mark }) => mark === 'W01')).to.have.length(1)
  })

  it('a page that ends in the moment of a word has kept it, and lets the next one keep the tally', async () => {
    const register = HOUSE.replaceAll('ropewalk/tally', `house${Math.random()}/tally`).replaceAll(
      'mark: W01,',
      'mark: W01, topic: ropewalk/w01,',
    )
    const first = page(register)
    await until('the sheet', () => first.inside()?.text('.headline').startsWith('None heard open'))
    first.inside()?.hear('ropewalk/w01', 'opened')
    first.end()
    const second = page(register)
    await until('the word', () => second.inside()?.text('.headline').startsWith('1 may be open'))
    expect(second.inside()?.text('.bands')).to.equal('')
    second.end()
  })
})
