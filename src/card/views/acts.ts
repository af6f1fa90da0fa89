import { html, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import type { View } from '../state/chosen.ts'
import { mayBeOpen, type Row } from '../state/row.ts'
import type { Key } from '../words/en.ts'
import { named } from '../words/tell.ts'
import { actBox, type Box } from './box.ts'
import { deedFor, ofLook } from './deed.ts'
import { panelOf } from './panel.ts'
import { walkActs } from './round.ts'
import { sectionMark } from './section-mark.ts'

/** Above this many the house is looked through floor by floor. */
const MOST_AT_ONCE = 6

/** The family's act, and the ways to the other sheets. */
export function acts(scene: Scene): TemplateResult {
  if (panelOf(scene) === 'round' && scene.walk.round) return walkActs(scene.walk.round, scene)
  return html`<nav class="acts" part="acts" aria-label=${scene.words.say('acts')}>
    ${actBox(houseBox(scene), scene)}
    ${way(scene, 'last-look', 'lastLook', '3')} ${way(scene, 'while-out', 'whileOut', '4')} ${way(scene, 'round', 'round', '5')}
    ${way(scene, 'signs', 'signs', 'K')}
  </nav>`
}

/** Only what nobody has seen shut can be said to be: what is open now, or reports both edges itself, is never part of it. */
export const isForAll = ({ opening, reading }: Row): boolean =>
  reading.position === 'opened' && opening.reports !== 'both'

const marksIn = (rows: readonly Row[]): readonly string[] => rows.map(({ opening }) => opening.mark)

function houseBox(scene: Scene): Box {
  const { rows, words, act, notNow, maySay } = scene
  const open = rows.filter(mayBeOpen)
  const marks = marksIn(rows.filter(isForAll))
  const others = marksIn(open.filter(row => !isForAll(row)))
  const off = notNow && words.say(notNow)
  const deed = deedFor(scene, ofLook)
  const name = 'house-box'
  // Beside the story of one opening the family's act would be taken for that one's.
  if (panelOf(scene)) return { name, label: words.say('back'), does: () => act({ kind: 'back' }), leads: '1' }
  if (!maySay) return { name, label: words.say('onlyLooks') }
  if (open.length === 0) {
    const n = scene.head.notCertain
    // What was said last is told alone: nothing else comes under the finger.
    const does = deed?.state === 'noted' ? undefined : () => act({ kind: 'show', view: 'last-look' })
    if (n > 0) return { name, label: words.say('lookUnsure', { n }), does, leads: '3', deed }
    return { name, label: words.say(scene.fresh ? 'nothingToLook' : 'lookYourself'), deed }
  }
  if (marks.length > MOST_AT_ONCE) {
    const label = words.say('lookFloors', { n: marks.length })
    return { name, label, does: () => act({ kind: 'show', view: 'last-look' }), leads: '3', deed }
  }
  if (marks.length === 0) {
    const n = others.length
    // A contact of openings alone is open for the seconds that its module is heard, and then cannot say that it is shut.
    if (open.some(({ opening }) => opening.reports !== 'both')) {
      return { name, label: words.say('openNow', { n }), aside: named(others), deed }
    }
    return {
      name,
      label: words.say('shutThem', { n, marks: named(others) }),
      aside: words.say('saysItself', { n }),
      deed,
    }
  }
  const not = others.length > 0 ? ` ${words.say('notDoors', { n: others.length, marks: named(others) })}` : ''
  return {
    name,
    label: words.say('lookedAll', { n: marks.length }),
    aside: `${marks.join(', ')}.${not}`,
    does: () => act(lookedAt(marks)),
    isBold: true,
    off,
    deed,
  }
}

function way({ chosen: { view, told }, words, act }: Scene, to: View, key: Key, sheet: string): TemplateResult {
  const isThere = view === to && told === undefined
  return html`<button
    class="way"
    data-way=${to}
    aria-pressed=${isThere}
    @click=${() => act({ kind: 'show', view: isThere ? 'sheet' : to })}
  >
    ${sectionMark(sheet)} <span>${words.say(key)}</span>
  </button>`
}
