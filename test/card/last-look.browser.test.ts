import { expect } from 'chai'
import { HOUSE, type Wall, wall } from './wall.ts'

const ATTIC = `  - { mark: W04, name: 'Attic, north', room: Attic, sender: coin, at: { side: east, floor: 1, along: 0.6 } }
`

/** The mark, or the floor's act, under each place that can be pressed in the last look round. */
class Finger {
  readonly #points: readonly (readonly [x: number, y: number, what: string])[]

  constructor(readonly w: Wall) {
    this.#points = [...w.root.querySelectorAll('.last-look :is(.tick-place, .tick-floor)')].map(each => {
      const { left, top, width, height } = each.getBoundingClientRect()
      return [left + Math.min(width, 60) / 2, top + height / 2, whatOf(each)]
    })
    expect(this.#points.length).to.be.greaterThan(4)
  }
  /** What stands under the same points now, of those that are in sight. */
  findsTheSame(when: string): void {
    const tops = [...this.w.root.querySelectorAll('.last-look :is(.tick-place, .tick-floor)')].map(each => {
      const { top, height } = each.getBoundingClientRect()
      return [top + height / 2, whatOf(each)]
    })
    expect(tops, when).to.deep.equal(this.#points.map(([, y, what]) => [y, what]))
    const inSight = this.#points.filter(([x, y]) => this.#at(x, y) !== undefined)
    expect(inSight.length, `${when}: points in sight`).to.be.greaterThan(1)
    expect(
      inSight.map(([x, y]) => this.#at(x, y)),
      when,
    ).to.deep.equal(inSight.map(([, , what]) => what))
  }
  #at(x: number, y: number): string | undefined {
    const place = this.w.root.elementFromPoint(x, y)?.closest('.tick-place, .tick-floor')
    return place ? whatOf(place) : undefined
  }
}

const whatOf = (place: Element): string =>
  place.closest('.tick')?.querySelector('.tag')?.textContent ??
  `all on ${[...place.parentElement!.querySelectorAll('.tick-floor')].indexOf(place)}`

describe('under a finger on the last look round', () => {
  for (const lang of ['en', 'de']) {
    for (const size of [
      [360, 740],
      [1024, 600],
      [1280, 800],
    ] as const) {
      it(`stands the same before and after a word, and after an act, at ${size.join(' x ')}, ${lang}`, async () => {
        const w = await wall({ size, register: HOUSE + ATTIC, attributes: { lang } })
        await w.leaveOpen('w01', 'w02')
        await w.hear('ropewalk/d01', 'ajar')
        await w.press(lang === 'en' ? 'Last look round' : 'Letzter Blick')
        expect(w.all('.floors .tag')).to.deep.equal(['W01', 'W02', 'D01'])
        expect(w.all('.uncertain .tag')).to.deep.equal(['W03', 'W04'])
        w.root.querySelector('.tick-place')!.scrollIntoView()
        const finger = new Finger(w)
        await w.hear('ropewalk/w03', 'opened')
        finger.findsTheSame('one of the uncertain is opened')
        await w.pass(20_000)
        finger.findsTheSame('and is silent again')
        await w.hear('ropewalk/d01', 'shut')
        finger.findsTheSame('the door says that it is shut')
        w.root.querySelector<HTMLElement>('.tick-floor button')!.click()
        await w.drawn()
        finger.findsTheSame('a floor is ticked at once')
        expect(w.all('.floors .done .tag')).to.deep.equal(['W01', 'W02'])
        expect(w.text('.tick-floor')).to.match(/Everything is ticked here|Hier ist alles abgehakt/)
        w.root.querySelector<HTMLElement>('.uncertain .tick-act')!.click()
        await w.drawn()
        finger.findsTheSame('one is ticked')
        await w.hear('ropewalk/w01', 'opened')
        finger.findsTheSame('what was ticked is opened again')
        await w.hear('ropewalk/d01', 'ajar')
        finger.findsTheSame('the door opens again')
      })
    }
  }

  it('what comes to be looked at later waits at the end, is counted, and is listed when it is opened anew', async () => {
    const w = await wall()
    await w.hear('ropewalk/d01', 'shut')
    await w.leaveOpen('w01')
    await w.press('Last look round')
    const listed = w.all('.last-look .tag')
    expect(listed).to.deep.equal(['W01', 'W02', 'W03'])
    await w.press('It is shut')
    await w.hear('ropewalk/d01', 'ajar')
    expect(w.all('.last-look .tag')).to.deep.equal(listed)
    expect(w.text('.last-look > :last-child')).to.equal('1 more came: look again')
    await w.press('1 more came: look again')
    expect(w.all('.floors .tag')).to.deep.equal(['D01'])
    expect(w.root.querySelector('.came') === null).to.equal(true)
  })

  it('a wall that always shows it follows the house until somebody touches it', async () => {
    const w = await wall({ attributes: { view: 'last-look' } })
    await w.hear('ropewalk/w02', 'opened')
    expect(w.all('.floors .tag')).to.deep.equal(['W02'])
    w.card.dispatchEvent(new PointerEvent('pointerdown', { bubbles: true, composed: true }))
    await w.hear('ropewalk/w01', 'opened')
    expect(w.all('.floors .tag')).to.deep.equal(['W02'])
    await w.pass(11 * 60_000)
    expect(w.all('.floors .tag')).to.deep.equal(['W01', 'W02'])
  })
})
