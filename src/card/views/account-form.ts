import { html, type TemplateResult } from 'lit'
import type { Scene } from '../scene.ts'

/** Why another account may be needed. */
export function refusal({ wire, fresh }: Scene): string | undefined {
  if (wire.state === 'refused') return wire.why
  return wire.state === 'live' && !fresh ? wire.partial : undefined
}

/** Asked for when the broker refuses; never filled in from the page. */
export function accountForm(scene: Scene): TemplateResult {
  const { words, hands } = scene
  const submit = (event: SubmitEvent) => {
    event.preventDefault()
    const form = event.target as HTMLFormElement
    const [user, password] = [...form.querySelectorAll('input')].map(input => input.value)
    hands.connect(user ?? '', password ?? '')
    form.reset()
  }
  return html`<form class="account" part="account" @submit=${submit}>
    <h2>${words.say('passTitle')}</h2>
    <p>${refusal(scene)}</p>
    <label>${words.say('user')} <input name="user" autocomplete="username" autocapitalize="none" required /></label>
    <label>${words.say('password')} <input name="password" type="password" autocomplete="current-password" /></label>
    <button class="act">${words.say('connect')}</button>
    <p class="aside">${words.say('passIntro')}</p>
  </form>`
}
