import { expect } from 'chai'
import { eveningEntries } from './fixtures.ts'
import { until, type Wall, wall } from './wall.ts'

const ropewalk = async () => await (await fetch('/examples/ropewalk.yaml')).text()

async function evening(size: readonly [number, number], lang: string): Promise<Wall> {
  const w = await wall({ register: await ropewalk(), entries: eveningEntries(), size, attributes: { lang } })
  await until('the counts', () => w.root.querySelectorAll('.counts li').length === 3)
  await w.drawn()
  return w
}

const boxOf = (element: Element) => element.getBoundingClientRect()

/** Every piece of a count that lies outside its own line: it has been dropped for want of room. */
const dropped = (w: Wall): string[] =>
  [...w.root.querySelectorAll('.counts li > span')].flatMap(line =>
    [...line.children]
      .filter(piece => boxOf(piece).top >= boxOf(line).bottom || boxOf(piece).right > boxOf(line).right + 1)
      .map(piece => piece.textContent ?? ''),
  )

/** The counts that are drawn over something else, or over the edge of the head. */
const overTheEdge = (w: Wall): string[] => {
  const head = boxOf(w.root.querySelector('.head')!)
  const time = boxOf(w.root.querySelector('.time')!)
  return [...w.root.querySelectorAll('.counts li')]
    .filter(count => {
      const { top, bottom, right } = boxOf(count)
      return top < head.top - 1 || bottom > head.bottom + 1 || right > (time.width > 0 ? time.left : head.right) + 1
    })
    .map(count => count.textContent ?? '')
}

const SIZES = [
  [300, 300],
  [320, 568],
  [360, 740],
  [768, 1024],
  [1024, 600],
  [1280, 800],
  [1920, 1080],
] as const

for (const lang of ['en', 'de']) {
  for (const [width, height] of SIZES) {
    it(`each count says what it counts, live or not, and the strip stays where it is: ${width} x ${height}, ${lang}`, async () => {
      const w = await evening([width, height], lang)
      const strip = () => Math.round(boxOf(w.root.querySelector('.strip')!).top)
      const before = strip()
      expect(dropped(w)).to.deep.equal([])
      expect(overTheEdge(w)).to.deep.equal([])
      w.stage.feed.link({ state: 'down', since: w.stage.now })
      await w.pass(600_000)
      expect(w.root.querySelector('.frame.stale')).to.not.equal(null)
      expect(dropped(w), 'not live').to.deep.equal([])
      expect(overTheEdge(w), 'not live').to.deep.equal([])
      expect(strip(), 'not live').to.equal(before)
      w.card.remove()
    })
  }
}
