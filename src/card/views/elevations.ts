import { html, nothing, type TemplateResult } from 'lit'
import type { Doubt, Reading } from '../../protocol/reading.ts'
import { type Layout, layoutHouse } from '../draw/layout.ts'
import { type PageOptions, pageTemplate } from '../draw/templates.ts'
import type { CardHouse } from '../model.ts'
import type { Scene } from '../scene.ts'
import { tellQuiet } from '../tell.ts'
import { isContested } from '../urgency.ts'

interface Laid {
  readonly house: CardHouse
  readonly width: number
  readonly height: number
  readonly minShape: number
  readonly layout: Layout
}

/** Room at both sides for captions wider than their elevation, pixels. */
const MARGIN = 10

/** Width of a window under which sides go to further pages: 5 minutes of arc from 3 m on a 10-inch tablet. */
const LEAST_SHAPE = 26
/** The same under a band: what is not live is better a little small than out of sight. */
const LEAST_NOT_LIVE = 22
/** Room for the drawing on paper, pixels: an A4 page within its margins. */
const PAPER = { width: 720, height: 900 }
/** Height of the button that turns the page, pixels. */
const TURN = 54

/** The last layout: a house is laid out again only when it or its area changes. */
let last: Laid | undefined

function layoutOf(house: CardHouse, width: number, height: number, minShape: number): Layout {
  if (last?.house !== house || last.width !== width || last.height !== height || last.minShape !== minShape) {
    const within = (room: number) => layoutHouse(house, { width, minShape, ...(room > 0 ? { height: room } : {}) })
    const whole = within(height)
    last = {
      house,
      width,
      height,
      minShape,
      layout: whole.pages.length > 1 && height > TURN ? within(height - TURN) : whole,
    }
  }
  return last.layout
}

/** On paper there is no page to turn: all sides as high as they need to be, or as many sheets as keep them readable. */
function onPaper(house: CardHouse): Layout {
  const whole = layoutOf(house, PAPER.width, 0, LEAST_SHAPE)
  return whole.height > PAPER.height ? layoutOf(house, PAPER.width, PAPER.height, LEAST_SHAPE) : whole
}

/** False where no opening has a place: the schedule then stands alone. */
export const hasElevations = ({ house }: Scene): boolean =>
  house.openings.some(({ at }) => at && house.sides.includes(at.side))

/** The sides of the house; a page of them where not all are readable at once. */
export function elevations(scene: Scene): TemplateResult {
  const { house, words, area, hands, rowOf, told } = scene
  if (!scene.printing && area.width < 40) return html`<div class="plan-drawing"></div>`
  const least = scene.fresh ? LEAST_SHAPE : LEAST_NOT_LIVE
  const layout = scene.printing ? onPaper(house) : layoutOf(house, area.width - 2 * MARGIN, area.height, least)
  const pages = layout.pages.length
  const page = (scene.page + scene.turned) % Math.max(1, pages)
  const shown = scene.printing ? layout.pages : layout.pages.slice(page, page + 1)
  const options: PageOptions = {
    label: words.say('elevations'),
    caption: ({ side, part, parts }) =>
      words.say('elevation', { side: capital(side, words.lang) }) + (parts > 1 ? ` ${part + 1}/${parts}` : ''),
    level: floor => words.say('level', { n: floor }),
    shown: mark => shownOf(rowOf(mark)?.reading),
    openingLabel: mark => {
      const row = rowOf(mark)
      return row ? `${mark} ${row.opening.name}: ${tellQuiet(row, scene)}` : mark
    },
    pick: hands.tell,
    picked: scene.printing ? undefined : told,
  }
  return html`<div class="plan-drawing">
    ${
      pages > 1
        ? html`<button class="act page-turn" @click=${() => hands.turnTo((page + 1) % pages)}>
            ${words.say('pageOf', { n: page + 1, of: pages })} · ${words.say('nextPage')}
          </button>`
        : nothing
    }
    ${shown.map(each => pageTemplate(layout, each, options))}
  </div>`
}

/** A look that is not certain any more has the outline of a contact that cannot be heard. */
const shownOf = (reading: Reading | undefined) =>
  !reading || !isContested(reading)
    ? reading
    : { position: reading.position, doubts: [...new Set<Doubt>([...reading.doubts, 'silent'])] }

const capital = (text: string, lang: string) => text.slice(0, 1).toLocaleUpperCase(lang) + text.slice(1)
