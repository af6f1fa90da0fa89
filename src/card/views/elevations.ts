import { html, nothing, svg, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import { drawElevation } from '../draw/elevation.ts'
import { type Layout, layoutHouse, type OpeningPlace } from '../draw/layout.ts'
import { drawDoubt, drawOpening, drawTag, gravest, isNoted } from '../draw/opening.ts'
import { shapeOf } from '../figures.ts'
import type { CardHouse } from '../model.ts'
import type { Scene } from '../scene.ts'
import { tellPosition } from '../tell.ts'

/** The last layout: a house is laid out again only when it or its area changes. */
let last: { readonly house: CardHouse; readonly width: number; readonly height: number; readonly layout: Layout } | undefined

function layoutOf(house: CardHouse, width: number, height: number): Layout {
  if (last?.house !== house || last.width !== width || last.height !== height) {
    const layout = layoutHouse(house, height > 0 ? { width, height } : { width })
    last = { house, width, height, layout }
  }
  return last.layout
}

/** Nothing to draw: no opening has a place, or the sheet is too small for shapes that can be read. */
export const hasElevations = ({ house }: Scene): boolean =>
  house.openings.some(({ at }) => at && house.sides.includes(at.side))

/** The sides of the house; a page of them where not all are readable at once. */
export function elevations(scene: Scene): TemplateResult {
  const { house, words, area, hands } = scene
  const { width, height } = area
  if (width < 40) return html`<div class="plan-drawing"></div>`
  const layout = layoutOf(house, width, height)
  const pages = layout.pages.length
  const page = Math.min(scene.page, pages - 1)
  const elevations = layout.pages[page]?.elevations ?? []
  return html`<div class="plan-drawing" part="elevations">
    <svg
      class="drawing"
      role="img"
      aria-label=${describe(scene)}
      width=${layout.width}
      height=${layout.height}
      viewBox="0 0 ${layout.width} ${layout.height}"
    >
      ${guard([layout, page, words], () =>
        elevations.map(elevation =>
          drawElevation(elevation, {
            caption: ({ side, part, parts }) =>
              words.say('elevation', { side: capital(side, words.lang) }) + (parts > 1 ? ` ${part + 1}/${parts}` : ''),
            level: floor => (floor === 0 ? '' : words.say('level', { n: floor })),
          }).map(shapeOf),
        ),
      )}
      ${elevations.flatMap(({ openings }) => openings.map(place => openingOnce(place, scene)))}
    </svg>
    ${
      pages > 1
        ? html`<button class="act page-turn" @click=${() => hands.turnTo((page + 1) % pages)}>
            ${words.say('pageOf', { n: page + 1, of: pages })} · ${words.say('nextPage')}
          </button>`
        : nothing
    }
  </div>`
}

const capital = (text: string, lang: string) => text.slice(0, 1).toLocaleUpperCase(lang) + text.slice(1)

/** What may be open, for those who hear the drawing. */
function describe(scene: Scene): string {
  const open = scene.rows.filter(({ reading }) => reading.position === 'open' || reading.position === 'opened')
  const names = open.map(row => `${row.opening.mark} ${tellPosition(row, scene)}`).join(', ')
  return names ? `${scene.words.say('elevations')}: ${names}` : scene.words.say('elevations')
}

function openingOnce(place: OpeningPlace, scene: Scene) {
  const reading = scene.byMark.get(place.mark)?.reading
  return guard([place, reading, scene.told === place.mark], () => {
    const position = reading?.position ?? 'no-word'
    const doubts = reading?.doubts ?? []
    const { shape, tag, hit, kind, mark } = place
    const doubt = gravest(doubts)
    return svg`<g class="opening can-pick ${scene.told === mark ? 'picked' : ''}" @click=${() => scene.hands.tell(mark)}>
      <rect class="hit" x=${hit.x} y=${hit.y} width=${hit.width} height=${hit.height}></rect>
      <g transform="translate(${shape.x} ${shape.y})">
        ${drawOpening(kind, position, shape.width, shape.height).map(shapeOf)}
        ${doubt ? drawDoubt(doubt, kind, shape.width, shape.height).map(shapeOf) : nothing}
      </g>
      ${isNoted(position, doubts) ? drawTag(kind, position, doubts, tag.text, tag).map(shapeOf) : nothing}
    </g>`
  })
}
