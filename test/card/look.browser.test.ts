import 'axe-core'
import { expect } from 'chai'
import { eveningEntries } from './fixtures.ts'
import { HOUSE, until, type Wall, wall } from './wall.ts'

const { axe } = globalThis as unknown as { axe: typeof import('axe-core') }
const ropewalk = async () => await (await fetch('/examples/ropewalk.yaml')).text()

async function evening(given: Parameters<typeof wall>[0] = {}): Promise<Wall> {
  return wall({ register: await ropewalk(), entries: eveningEntries(), ...given })
}

/** @param above - so many rules axe has to find something for, at least: else it was not the view that it looked at */
async function violations({ card }: Pick<Wall, 'card'>, above = 10): Promise<string[]> {
  const { violations, passes } = await axe.run(card)
  expect(passes.length).to.be.above(above)
  return violations.map(each => `${each.id}: ${each.nodes.map(node => node.html).join(' ')}`)
}

describe('how the sheet looks', () => {
  for (const sheet of ['paper', 'blueprint']) {
    it(`axe finds nothing on ${sheet}, in any view`, async () => {
      const w = await evening({ attributes: { sheet } })
      await until('the drawing', () => w.root.querySelector('g.opening'))
      expect(await violations(w)).to.deep.equal([])
      for (const label of [
        'Last look round',
        'While you were out',
        'Walk and test',
        'Start the walk',
        'End the walk',
        'What the signs mean',
        'Back to the house',
      ]) {
        await w.press(label)
        expect(await violations(w), label).to.deep.equal([])
      }
      w.row('W11').click()
      await w.drawn()
      expect(await violations(w), 'story').to.deep.equal([])
      const since = w.stage.now
      for (const standing of [
        { state: 'down', since },
        { state: 'refused', since, why: 'who are you?' },
        { state: 'refused', since, why: 'who are you?', account: true },
      ] as const) {
        w.stage.feed.link(standing)
        await w.drawn()
        expect(await violations(w), JSON.stringify(standing)).to.deep.equal([])
      }
      w.stage.live()
      w.card.querySelector('script')!.textContent = '<html>Sign in</html>'
      await until('the band', () => w.text('.bands').startsWith('The list of windows cannot be read'))
      expect(await violations(w), 'a broken register').to.deep.equal([])
      dispatchEvent(new Event('beforeprint'))
      expect(await violations(w), 'print').to.deep.equal([])
      dispatchEvent(new Event('afterprint'))
      w.card.remove()
    })

    it(`axe finds nothing on ${sheet} where all is shut, and where there is no house`, async () => {
      const calm = await wall({ attributes: { sheet } })
      await calm.hear('ropewalk/d01', 'shut')
      await calm.leaveOpen('w01', 'w02', 'w03')
      await calm.press(/^I looked/)
      await until('the stamp', () => calm.root.querySelector('.stamp'))
      expect(await violations(calm)).to.deep.equal([])
      calm.card.remove()
      const script = '<script type="application/yaml">openings: [</script>'
      document.body.insertAdjacentHTML('beforeend', `<sash-tally lang="en" sheet="${sheet}">${script}</sash-tally>`)
      const none = document.body.lastElementChild as Wall['card']
      await until('the list', () => none.shadowRoot?.querySelector('.no-house li'))
      expect(await violations({ card: none }, 5), 'no house').to.deep.equal([])
      none.remove()
    })

    it(`axe finds nothing on ${sheet} on a phone, in any view`, async () => {
      const w = await evening({ size: [360, 740], attributes: { sheet } })
      await until('the drawing', () => w.root.querySelector('g.opening'))
      expect(await violations(w)).to.deep.equal([])
      for (const way of ['last-look', 'while-out', 'round', 'signs']) {
        w.card.setAttribute('view', way)
        await w.drawn()
        expect(w.root.querySelector(`.at-${way}`), way).to.not.equal(null)
        expect(await violations(w), way).to.deep.equal([])
      }
      w.card.remove()
    })
  }

  for (const [width, height] of [
    [300, 300],
    [320, 640],
    [360, 740],
    [600, 960],
    [800, 1280],
    [1024, 600],
    [1280, 800],
    [1920, 1080],
  ] as const) {
    it(`nothing overflows sideways at ${width} x ${height}, in English, German and from right to left`, async () => {
      for (const attributes of [{ lang: 'en' }, { lang: 'de' }, { lang: 'en', dir: 'rtl' }]) {
        const w = await evening({ size: [width, height], attributes })
        const sheet = w.root.querySelector<HTMLElement>('.sheet')!
        const look = (what: string) => {
          expect(sheet.scrollWidth, what).to.be.at.most(sheet.clientWidth)
          for (const part of w.root.querySelectorAll<HTMLElement>('.plan, .schedule, .acts, .head')) {
            expect(part.scrollWidth, `${what}: ${part.className}`).to.be.at.most(part.clientWidth + 1)
          }
        }
        await w.drawn()
        look('sheet')
        const size = Number.parseFloat(getComputedStyle(w.root.querySelector('.headline')!).fontSize)
        // Read from 3 m on a wall; a phone is held in the hand, and its headline keeps to one line there.
        expect(size).to.be.at.least(width < 600 ? 30 : 40)
        w.row('W11').click()
        await w.drawn()
        look('story')
      }
    })
  }

  it('everything that can be pressed is at least 44 px high and wide', async () => {
    for (const size of [
      [1280, 800],
      [320, 640],
    ] as const) {
      const w = await evening({ size })
      const small: string[] = []
      const look = () => {
        for (const each of w.root.querySelectorAll<HTMLElement>('button, select, input, summary')) {
          const box = each.getBoundingClientRect()
          if (box.height > 0 && (box.height < 44 || box.width < 44)) small.push(`${each.className} ${each.textContent}`)
        }
      }
      look()
      for (const label of [/^Last look/, 'While you were out', 'Walk and test', 'Start the walk']) {
        await w.press(label)
        look()
      }
      expect(small.filter(each => !each.startsWith('undefined'))).to.deep.equal([])
    }
  })

  it('the drawing fits its place, and the schedule stays in sight on a tablet', async () => {
    const w = await evening()
    const svg = await until('the drawing', () => w.root.querySelector<SVGElement>('.plan svg.drawing'))
    const place = w.root.querySelector('.plan')!.getBoundingClientRect()
    expect(svg.getBoundingClientRect().right).to.be.at.most(place.right + 1)
    const card = w.card.getBoundingClientRect()
    expect(w.root.querySelector('.title-block')!.getBoundingClientRect().bottom).to.be.at.most(card.bottom + 1)
    const sheet = w.root.querySelector('.sheet')!
    expect(sheet.scrollHeight, 'no pixel too many').to.equal(sheet.clientHeight)
    expect(w.row('W11').getBoundingClientRect().bottom).to.be.below(card.bottom)
  })

  for (const size of [
    [1024, 600],
    [768, 1024],
    [360, 740],
  ] as const) {
    it(`a house of hundreds has its list right under the field that searches it, at ${size.join(' x ')}`, async () => {
      const sender = HOUSE.slice(0, HOUSE.indexOf('openings:'))
      const rows = Array.from({ length: 60 }, (_, n) => `  - { mark: X${n}, name: Room ${n}, sender: coin }`)
      const w = await wall({ size, register: `${sender}openings:\n${rows.join('\n')}\n` })
      const box = (selector: string) => w.root.querySelector(selector)!.getBoundingClientRect()
      expect(box('.search').height).to.be.within(44, 50)
      expect(box('.row').top - box('.search').bottom).to.be.within(0, 8)
      expect(box('.headline').bottom, 'over the strip').to.be.at.most(box('.strip').top)
      // One key past all of them.
      w.button('Past the house and its list').click()
      expect(w.root.activeElement?.closest('.acts')).to.not.equal(null)
    })
  }

  it('what is printed has every side on it, and the time, also where the sheet turns its pages', async () => {
    const w = await evening({ size: [360, 740] })
    await until('the drawing', () => w.root.querySelector('g.opening'))
    const drawn = () => w.root.querySelectorAll('g.opening').length
    const [placed, onPage] = [26, drawn()]
    expect(w.root.querySelector('.page-turn')).to.not.equal(null)
    expect(onPage).to.be.below(placed)
    dispatchEvent(new Event('beforeprint'))
    expect(drawn()).to.equal(placed)
    expect(w.root.querySelector('.page-turn')).to.equal(null)
    expect(w.text('.printed')).to.match(/Printed .*25 November 2026.* is of that moment.* Counted on this tablet since/)
    dispatchEvent(new Event('afterprint'))
    expect(drawn()).to.equal(onPage)
  })

  it('a page that was turned to by itself stays under a focus, and a search nobody goes on with lets it turn', async () => {
    const w = await evening({ size: [360, 740] })
    await until('the drawing', () => w.root.querySelector('g.opening'))
    const shown = () => w.root.querySelector('g.opening')?.getAttribute('data-mark')
    const first = shown()
    for (let minute = 0; shown() === first; minute++) {
      expect(minute).to.be.below(10)
      await w.pass(63_000)
    }
    const turned = shown()
    const opening = w.root.querySelector<SVGElement>('g.opening')!
    // As a key moves it: a touch would show no focus.
    opening.focus({ focusVisible: true } as FocusOptions)
    await w.drawn()
    expect(shown()).to.equal(turned)
    expect(w.root.activeElement?.getAttribute('data-mark')).to.equal(turned)
    await w.pass(3 * 63_000)
    expect(shown()).to.equal(turned)
    const field = document.createElement('input')
    w.root.querySelector('.frame')!.append(field)
    field.focus()
    await w.pass(12 * 60_000)
    expect(w.root.activeElement === null, 'the field has let go').to.equal(true)
  })

  it('a row that says the same is not drawn again', async () => {
    const w = await evening()
    await w.drawn()
    const touched = new Set<string>()
    const observer = new MutationObserver(records => {
      for (const { target } of records) {
        const row = (target instanceof Element ? target : target.parentElement)?.closest('.row')
        if (row) touched.add(row.querySelector('.tag')?.textContent ?? '')
      }
    })
    const options = { childList: true, subtree: true, characterData: true, attributes: true }
    observer.observe(w.root.querySelector('.rows')!, options)
    await w.hear('ropewalk/w05', 'opened')
    observer.disconnect()
    expect([...touched]).to.deep.equal(['W05'])
  })
})
