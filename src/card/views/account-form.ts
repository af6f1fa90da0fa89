import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Key } from '../words/en.ts'

/** What the question needs to know; there may be no sheet yet. */
export type Asks = Pick<Scene, 'words' | 'act' | 'link' | 'fresh' | 'accountKept' | 'heardNothing'>

/** Why another account may be needed; empty: the title says it. Undefined where none would help. */
export function refusal({ link: { standing }, fresh, accountKept, heardNothing }: Asks): string | undefined {
  if (refusesAccount(standing)) return ''
  if (standing.state === 'refused') return standing.filters ? standing.why : undefined
  if (standing.state !== 'live') return undefined
  // A broker may take a subscription that it will not serve.
  return (fresh ? undefined : standing.partial) ?? (heardNothing && accountKept ? '' : undefined)
}

/** The broker lets nobody in with this account, or with none: the title of the form says all of it. */
export const refusesAccount = (standing: Scene['link']['standing']): boolean =>
  standing.state === 'refused' && standing.account === true

/** Asked for when the broker refuses; never filled in from the page. */
export function accountForm(scene: Asks): TemplateResult {
  const { words, act } = scene
  const why = refusal(scene)
  const submit = (event: SubmitEvent) => {
    event.preventDefault()
    const form = event.target as HTMLFormElement
    const [user, password] = [...form.querySelectorAll('input')].map(input => input.value)
    act({ kind: 'connect', user: user ?? '', password: password ?? '' })
    form.reset()
  }
  return html`<form class="account" part="account" @submit=${submit}>
    <h2>${words.say(accountTitle(scene))}</h2>
    ${why ? html`<p>${why}</p>` : nothing}
    <label>${words.say('user')} <input name="user" autocomplete="username" autocapitalize="none" required /></label>
    <label>${words.say('password')} <input name="password" type="password" autocomplete="current-password" /></label>
    <button class="act">${words.say('connect')}</button>
    <p class="aside">${words.say('passIntro')}</p>
  </form>`
}

/** The first question reads otherwise than the answer to a wrong password. */
export function accountTitle({ link: { standing }, accountKept }: Pick<Scene, 'link' | 'accountKept'>): Key {
  if (!accountKept) return 'passTitle'
  if (standing.state !== 'live') return 'passWrong'
  return standing.partial ? 'passPartly' : 'connect'
}
