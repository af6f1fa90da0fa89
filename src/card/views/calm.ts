import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'

/** When it was last seen shut, and what "All shut" rests on. */
export function calm(scene: Scene): TemplateResult {
  const at = Math.max(0, ...seenTimes(scene))
  return html`<p class="calm">
    ${at > 0 ? html`<b>${scene.words.say('seenShutAt', { at: scene.when.at(at, scene.now) })}</b>` : nothing}
    <span>${calmGrounds(scene)}</span>
  </p>`
}

const seenTimes = ({ rows }: Scene): readonly number[] =>
  rows.filter(row => !isSaid(row)).map(({ reading: { since } }) => (since ? Date.parse(since) : 0))

/** Who looked when, what says so itself, and that nothing was heard since: one sentence. */
export function calmGrounds(scene: Scene): string {
  const { rows, words } = scene
  const said = rows.filter(row => isSaid(row)).length
  const seen = seenTimes(scene)
  const grounds = [
    seen.length > 0 ? looked(seen, scene) : '',
    said > 0 ? words.say('calmSaid', { n: said }) : '',
    words.say('calmRest'),
  ].filter(Boolean)
  return grounds.join(', ')
}

/** The contact itself says that it is shut. */
const isSaid = ({ opening, reading }: Row): boolean => opening.reports === 'both' && !reading.seen

function looked(times: readonly number[], { words, when, now }: Scene): string {
  const [from, at] = [Math.min(...times), Math.max(...times)].map(time => when.at(time, now))
  return words.say('calmSeen', { n: times.length, from: from!, at: at! })
}
