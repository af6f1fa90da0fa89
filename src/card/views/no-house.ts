import { html, type nothing, type TemplateResult } from 'lit'
import type { HouseState } from '../controllers/house-source.ts'
import type { Words } from '../words/words.ts'

/** Why there is nothing to show, with the register's problems where it has any. */
export function noHouse(state: HouseState, words: Words, tally?: string): TemplateResult | typeof nothing {
  switch (state.state) {
    case 'none':
      return html`<p class="no-house">${tally ? words.say('awaitsKeeper', { tally }) : words.say('noRegister')}</p>`
    case 'unread':
      return html`<p class="no-house">${words.say('registerGone', { url: state.url, why: state.why })}</p>`
    case 'bad': {
      const errors = state.problems.filter(problem => problem.severity === 'error')
      return html`<div class="no-house">
        <p>${words.say('registerBad', { n: errors.length })}</p>
        <ul>
          ${errors.slice(0, 20).map(({ line, column, message }) => html`<li><b>${line}:${column}</b> ${message}</li>`)}
        </ul>
      </div>`
    }
    default:
      return html`<p class="no-house">${words.say('loading')}</p>`
  }
}
