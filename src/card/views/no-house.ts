import { html, nothing, type TemplateResult } from 'lit'
import type { Problem } from '../../text/problem.ts'
import type { RegisterStanding, RegisterTrouble } from '../state/register.ts'
import type { Words } from '../words/words.ts'

/** Why there is nothing to show, with the register's problems where it has any. */
export function noHouse(
  state: RegisterStanding,
  words: Words,
  tally?: string,
  heardNothing?: boolean,
): TemplateResult | typeof nothing {
  switch (state.state) {
    case 'none':
      return html`<p class="no-house">${tally ? words.say('awaitsKeeper', { tally }) : words.say('noRegister')}</p>
        ${heardNothing ? html`<p class="no-house">${words.say('heardNothing')}</p>` : nothing}`
    case 'unread':
      return html`<p class="no-house">${words.say('registerGone', { url: state.url, why: state.why })}</p>`
    case 'bad': {
      const errors = errorsOf(state.problems)
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

const errorsOf = (problems: readonly Problem[]) => problems.filter(({ severity }) => severity === 'error')

/** What is wrong with a register that went bad while the last good one is shown, in one line. */
export function tellTrouble(trouble: RegisterTrouble, words: Words): string {
  switch (trouble.state) {
    case 'bad': {
      const errors = errorsOf(trouble.problems)
      const { line, column, message } = errors[0] ?? { line: 1, column: 1, message: '' }
      return `${words.say('registerBad', { n: errors.length })}: ${line}:${column} ${message}`
    }
    case 'unread':
      return words.say('registerGone', { url: trouble.url, why: trouble.why })
    case 'none':
      return words.say('noRegister')
  }
}
