import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'

/** What "All shut" rests on: who looked when, what says so itself, and that nothing was heard since. */
export function calm(scene: Scene): TemplateResult {
  const { rows, words } = scene
  const said = rows.filter(row => isSaid(row)).length
  const seen = rows.filter(row => !isSaid(row)).map(({ reading: { since } }) => (since ? Date.parse(since) : 0))
  const grounds = [
    seen.length > 0 ? looked(seen, scene) : '',
    said > 0 ? words.say('calmSaid', { n: said }) : '',
    words.say('calmRest'),
  ].filter(Boolean)
  const at = Math.max(...seen)
  return html`<p class="calm">
    ${at > 0 ? html`<b>${words.say('seenShutAt', { at: scene.when.at(at, scene.now) })}</b>` : nothing}
    <span>${grounds.join(', ')}</span>
  </p>`
}

/** The contact itself says that it is shut. */
const isSaid = ({ opening, reading }: Row): boolean => opening.reports === 'both' && !reading.seen

function looked(times: readonly number[], { words, when, now }: Scene): string {
  const [from, at] = [Math.min(...times), Math.max(...times)].map(time => when.at(time, now))
  return words.say('calmSeen', { n: times.length, from: from!, at: at! })
}
