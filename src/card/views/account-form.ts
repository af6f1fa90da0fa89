import { html, type TemplateResult } from 'lit'
import type { Scene } from '../scene.ts'

/** Asked for when the broker refuses; never filled in from the page. */
export function accountForm({ words, hands, wire }: Scene): TemplateResult {
  const submit = (event: SubmitEvent) => {
    event.preventDefault()
    const form = event.target as HTMLFormElement
    const [user, password] = [...form.querySelectorAll('input')].map(input => input.value)
    hands.connect(user ?? '', password ?? '')
    form.reset()
  }
  return html`<form class="account" part="account" @submit=${submit}>
    <h2>${words.say('passTitle')}</h2>
    <p>${wire.state === 'refused' ? wire.why : ''}</p>
    <label>${words.say('user')} <input name="user" autocomplete="username" autocapitalize="none" required /></label>
    <label>${words.say('password')} <input name="password" type="password" autocomplete="current-password" /></label>
    <button class="act">${words.say('connect')}</button>
    <p class="aside">${words.say('passIntro')}</p>
  </form>`
}
