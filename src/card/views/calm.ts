import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'
import { named } from '../words/tell.ts'

/** When it was last seen shut, and what "All shut" rests on. */
export function calm(scene: Scene): TemplateResult {
  const { words, when, now } = scene
  const looks = looksOf(scene)
  const last = looks.at(-1)
  return html`<p class="calm">
    ${last ? html`<b>${words.say(last.by ? 'seenShutBy' : 'seenShutAt', { at: when.at(last.at, now), by: last.by })}</b>` : nothing}
    <span>${calmGrounds(scene)}</span>
  </p>`
}

interface Look {
  readonly at: number
  /** Empty: nobody signed it. */
  readonly by: string
}

/** When somebody saw each of them shut, the last one last. */
const looksOf = ({ rows }: Scene): readonly Look[] =>
  rows
    .filter(row => !isSaid(row))
    .map(({ reading: { since, seenBy = '' } }) => ({ at: since ? Date.parse(since) : 0, by: seenBy }))
    .sort((a, b) => a.at - b.at)

/** Who looked when, what says so itself, and that nothing was heard since: one sentence. */
export function calmGrounds(scene: Scene): string {
  const { rows, words } = scene
  const said = rows.filter(row => isSaid(row)).length
  const looks = looksOf(scene)
  const grounds = [
    looks.length > 0 ? looked(looks, scene) : '',
    said > 0 ? words.say('calmSaid', { n: said }) : '',
    words.say('calmRest'),
  ].filter(Boolean)
  return grounds.join(', ')
}

/** The contact itself says that it is shut. */
const isSaid = ({ opening, reading }: Row): boolean => opening.reports === 'both' && !reading.seen

function looked(looks: readonly Look[], { words, when, now }: Scene): string {
  const [from, at] = [looks[0]!.at, looks.at(-1)!.at].map(time => when.at(time, now))
  const n = looks.length
  const names = [...new Set(looks.map(({ by }) => by))].filter(Boolean)
  const told = words.say(from === at ? 'calmSeenOnce' : 'calmSeen', { n, from: from!, at: at! })
  // One alone stands on the stamp already.
  return names.length > 1 ? `${told} (${named(names)})` : told
}
