import { html, nothing, type TemplateResult } from 'lit'
import type { Doubt, Reading } from '../../protocol/reading.ts'
import { type PageOptions, pageTemplate } from '../draw/templates.ts'
import type { Scene } from '../select/scene.ts'
import { isContested } from '../state/row.ts'
import { tellQuiet } from '../words/tell.ts'

/** False where no opening has a place: the schedule then stands alone. */
export const hasElevations = ({ house }: Scene): boolean =>
  house.openings.some(({ at }) => at && house.sides.includes(at.side))

/** The sides of the house; a page of them where not all are readable at once. */
export function elevations(scene: Scene): TemplateResult {
  const { words, area, act, rowOf, chosen } = scene
  const { told, isPrinting } = chosen
  if (!isPrinting && area.width < 40) return html`<div class="plan-drawing"></div>`
  const layout = scene.layout()
  const pages = layout.pages.length
  const page = (chosen.page + chosen.turned) % Math.max(1, pages)
  const shown = isPrinting ? layout.pages : layout.pages.slice(page, page + 1)
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
    pick: mark => act({ kind: 'tell', mark, fromPlan: true }),
    picked: isPrinting ? undefined : told,
  }
  return html`<div class="plan-drawing">
    ${
      pages > 1
        ? html`<button class="act page-turn" @click=${() => act({ kind: 'turn-to', page: (page + 1) % pages })}>
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
