import { html, nothing, type TemplateResult } from 'lit'
import { sendsPerOpening } from '../../house/model.ts'
import { isSurelyShut } from '../../ledger/headline.ts'
import type { Doubt, Reading } from '../../protocol/reading.ts'
import type { Shown } from '../draw/opening.ts'
import type { Elevation, Layout, Page } from '../draw/plan.ts'
import type { StepShown } from '../draw/step.ts'
import { type PageOptions, pageTemplate } from '../draw/templates.ts'
import type { Scene } from '../select/scene.ts'
import { isContested, mayBeOpen, type Row } from '../state/row.ts'
import { tellQuiet } from '../words/tell.ts'

/** False where no opening has a place: the schedule then stands alone. */
export const hasElevations = ({ house }: Scene): boolean =>
  house.openings.some(({ at }) => at && house.sides.includes(at.side))

/**
 * The sides of the house; a page of them where not all are readable at once.
 * @param steps - the openings of a walk by mark, which is then drawn in place of their cells, and of the doubts that the walk is there to end
 */
export function elevations(scene: Scene, steps?: ReadonlyMap<string, StepShown>): TemplateResult {
  const { words, area, act, rowOf, chosen } = scene
  const { told, isPrinting } = chosen
  if (!isPrinting && area.width < 40) return html`<div class="plan-drawing"></div>`
  const layout = scene.layout()
  const pages = layout.pages.length
  const page = pageOf(layout, steps) ?? (chosen.page + chosen.turned) % Math.max(1, pages)
  const shown = isPrinting ? layout.pages : layout.pages.slice(page, page + 1)
  const due = isPrinting || steps ? [] : scene.jobs().due
  const options: PageOptions = {
    label: words.say('elevations'),
    caption: elevation => captionOf(elevation, words.lang),
    level: floor => words.say('level', { n: floor }),
    shown: mark => {
      const row = rowOf(mark)
      if (!row) return undefined
      return steps
        ? {
            position: row.reading.position,
            doubts: chosen.view === 'last-look' ? doubtsOf(row.reading) : [],
            step: steps.get(mark),
          }
        : shownOf(row, due.includes(row))
    },
    openingLabel: mark => {
      const row = rowOf(mark)
      const number = steps?.get(mark)?.number
      const name = number === undefined ? mark : `${number} ${mark}`
      return row ? `${name} ${row.opening.name}: ${tellQuiet(row, scene)}` : name
    },
    pick: mark => act({ kind: 'tell', mark, fromPlan: true }),
    picked: isPrinting ? undefined : told,
    ...(chosen.view === 'round' ? { way: steps } : {}),
    ...(isPrinting
      ? { tags: 'all' }
      : { today: { day: scene.today(), word: words.say('today'), openedOn: scene.openedToday } }),
  }
  return html`<div class="plan-drawing">
    ${pages > 1 && !isPrinting && pageOf(layout, steps) === undefined ? html`<div class="pages">${layout.pages.map((each, index) => turn(each, index, index === page, scene))}</div>` : nothing}
    ${shown.map(each => pageTemplate(layout, each, options))}
  </div>`
}

/** On a walk the drawing turns to where one is. */
function pageOf({ pages }: Layout, steps: ReadonlyMap<string, StepShown> | undefined): number | undefined {
  const isNext = ({ mark }: { readonly mark: string }) => steps?.get(mark)?.state === 'next'
  const page = pages.findIndex(({ elevations }) => elevations.some(({ openings }) => openings.some(isNext)))
  return page < 0 ? undefined : page
}

/** A page of the drawing by the sides on it, and how many openings there may be open, or are not certain. */
function turn({ elevations }: Page, index: number, isShown: boolean, scene: Scene): TemplateResult {
  const { words, act, rowOf } = scene
  const sides = elevations.map(elevation => captionOf(elevation, words.lang)).join(', ')
  const rows = elevations.flatMap(({ openings }) => openings.flatMap(({ mark }) => rowOf(mark) ?? []))
  const open = rows.filter(mayBeOpen).length
  const unsure = rows.filter(row => !mayBeOpen(row) && !isSurelyShut(row.reading)).length
  return html`<button
    class="act page-turn"
    aria-pressed=${isShown}
    @click=${() => act({ kind: 'turn-to', page: index })}
  >
    ${sides} ${open > 0 ? count('unseen', `${open}`, words.say('mayBeOpen', { n: open })) : nothing}
    ${unsure > 0 ? count('doubt', `${unsure}?`, words.say('unsure', { n: unsure })) : nothing}
  </button>`
}

const count = (tone: string, seen: string, said: string): TemplateResult =>
  html`<b class=${tone} aria-hidden="true">${seen}</b><span class="unseen-by-eye">${said}</span>`

/** A look that is not certain any more has the outline of a contact that cannot be heard. */
const doubtsOf = (reading: Reading): readonly Doubt[] =>
  isContested(reading) ? [...new Set<Doubt>([...reading.doubts, 'silent'])] : reading.doubts

function shownOf({ reading, opening }: Row, isDue: boolean): Shown {
  const { position, sends, left } = reading
  const doubts = doubtsOf(reading)
  const more = (left?.p50 ?? 0) * sendsPerOpening(opening.reports)
  const spent = reading.doubts.includes('spent') || sends + more === 0 ? 1 : sends / (sends + more)
  return { position, doubts, ...(isDue || reading.doubts.includes('low') ? { spent } : {}) }
}

/** Its side; of one that is drawn in parts which part. */
const captionOf = ({ side, part, parts }: Elevation, lang: string): string =>
  side.slice(0, 1).toLocaleUpperCase(lang) + side.slice(1) + (parts > 1 ? ` ${part + 1}/${parts}` : '')
