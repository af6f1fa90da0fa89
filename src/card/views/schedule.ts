import { html, nothing, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import { MINUTE } from '../../text/time.ts'
import { isBareList } from '../select/layouts.ts'
import type { Scene } from '../select/scene.ts'
import { matching } from '../select/search.ts'
import { SORTS, type Sort } from '../state/chosen.ts'
import type { Key } from '../words/en.ts'
import { inOrder } from './in-order.ts'
import { ScheduleRow } from './schedule-row.ts'

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
        newRow: () => new ScheduleRow(),
        draw: (drawn, row) => drawn.draw(row, scene, isNarrow),
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
