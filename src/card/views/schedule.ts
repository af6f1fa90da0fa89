import { html, nothing, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import { MINUTE } from '../../text/time.ts'
import { isBareList } from '../select/layouts.ts'
import type { Scene } from '../select/scene.ts'
import { matching } from '../select/search.ts'
import { SORTS, type Sort } from '../state/chosen.ts'
import { type Row, toneOf } from '../state/row.ts'
import type { Key } from '../words/en.ts'
import { tellLeft, tellRow } from '../words/tell.ts'
import { inOrder } from './in-order.ts'
import { tagClass } from './tag.ts'

/** More rows than this get a search field. */
const SEARCH_ABOVE = 30

const SORT_WORDS: Readonly<Record<Sort, Key>> = {
  urgency: 'byUrgency',
  room: 'byRoom',
  side: 'bySide',
  mark: 'byMark',
}

export function schedule(scene: Scene): TemplateResult {
  const { words, act, chosen } = scene
  const { sort, told } = chosen
  // On paper nothing is searched for.
  const typed = chosen.isPrinting ? '' : chosen.typed
  const found = matching(scene.inOrder, typed, words.lang)
  const isNarrow = isBareList(scene.area)
  return html`<section class="schedule" part="schedule" aria-labelledby="schedule-title">
    <div class="schedule-head">
      <h2 id="schedule-title">${words.say('schedule')}</h2>
      ${chosen.isPrinting ? html`<p class="pen">${words.say('pen')}</p>` : nothing}
      <label class="order"
        ><span class="unseen-by-eye">${words.say('sortBy')}</span
        ><select
          .value=${sort}
          @change=${(event: Event) => act({ kind: 'sort', sort: (event.target as HTMLSelectElement).value as Sort })}
        >
          ${guard([words, sort], () => SORTS.map(each => html`<option value=${each} ?selected=${each === sort}>${words.say(SORT_WORDS[each])}</option>`))}
        </select></label
      >
    </div>
    ${
      scene.rows.length > SEARCH_ABOVE
        ? html`<input
            class="search"
            type="search"
            aria-label=${words.say('search')}
            placeholder=${words.say('search')}
            .value=${typed}
            @input=${(event: Event) => act({ kind: 'type', text: (event.target as HTMLInputElement).value })}
          />`
        : nothing
    }
    <ol class="rows" tabindex="-1" @click=${(event: Event) => tellAt(event, scene)}>
      ${inOrder(found, `${sort} ${typed}`, {
        keyOf: row => row.opening.mark,
        classOf: row => `row ${toneOf(row)}`,
        draw: row => tableRow(row, scene, isNarrow),
        isAtOnce: chosen.isPrinting,
        // another minute, another language, another row that is told, another size
        ground: [Math.floor(scene.now / MINUTE), scene.words, scene.when, told, isNarrow],
      })}
    </ol>
    ${found.length === 0 && typed ? html`<p class="aside">${words.say('searchNone', { text: typed })}</p>` : nothing}
  </section>`
}

function tellAt({ target }: Event, { act, chosen }: Scene): void {
  const mark = (target as Element).closest<HTMLElement>('.row-open')?.dataset.mark
  if (mark !== undefined) act({ kind: 'tell', mark: mark === chosen.told ? undefined : mark })
}

/** Texts as properties: a sheet may have hundreds of rows, and what is no part of a template costs nothing. */
function tableRow(row: Row, scene: Scene, isNarrow: boolean): TemplateResult {
  const { opening, reading } = row
  const { main, note } = tellRow(row, { ...scene, isNarrow })
  return html`<button class="row-open" data-mark=${opening.mark} aria-expanded=${scene.chosen.told === opening.mark}>
      <span class=${tagClass(opening)} .textContent=${opening.mark}></span>
      <span class="what">
        <span class="name"><bdi .textContent=${opening.name}></bdi> <span class="left" .textContent=${leftOf(row, scene)}></span></span>
        <span class="say">${main}${note ? html`<i>, ${note}</i>` : nothing}</span>
        ${
          reading.odd
            ? html`<span class="odd">${scene.words.say('odd', { n: reading.odd.count, text: isolated(reading.odd.text) })}</span>`
            : nothing
        }
      </span>
    </button>`
}

/** What is left, in one text; on mains there is no cell to tell of. */
function leftOf(row: Row, scene: Scene): string {
  const { big, small } = tellLeft(row, scene)
  if (row.opening.power === 'mains') return big
  return small === scene.words.say('leftNone') ? small : `${big} ${small}`
}

/** Text of a topic turns nothing round but itself. */
const isolated = (text: string): string => `\u2068${text.replace(/[\u202A-\u202E\u2066-\u2069]/g, '\uFFFD')}\u2069`
