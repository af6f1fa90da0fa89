import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import type { View } from '../state/chosen.ts'
import type { Deed } from '../state/deeds.ts'
import { mayBeOpen } from '../state/row.ts'
import type { Key } from '../words/en.ts'
import { named, tellProblem } from '../words/tell.ts'

/** The large act, the ways to the other lists, and what was just said with its way back. */
export function acts(scene: Scene): TemplateResult {
  const { words, act, rows, maySay, notNow, deeds } = scene
  const { told } = scene.chosen
  // Beside the story of one opening it would be taken for that one's act.
  const isStory = told !== undefined && scene.rowOf(told) !== undefined
  const open = isStory ? [] : rows.filter(mayBeOpen).map(({ opening }) => opening.mark)
  return html`<nav class="acts" part="acts" aria-label=${words.say('acts')}>
    ${
      open.length > 0 && maySay
        ? html`<button
            class="great-act"
            part="act"
            aria-disabled=${notNow !== undefined}
            @click=${() => act(lookedAt(open))}
          >
            ${words.say('lookedAll', { n: open.length })} ${notNow ? html`<small>${words.say(notNow)}</small>` : nothing}
          </button>`
        : nothing
    }
    ${way(scene, 'leaving', 'bedtime')} ${way(scene, 'home', 'home')} ${way(scene, 'round', 'round')}
    <button class="act" @click=${() => act({ kind: 'print' })}>${words.say('print')}</button>
    ${deeds.last ? deedLine(deeds.last, scene) : nothing} ${deeds.failed.map(deed => deedLine(deed, scene))}
  </nav>`
}

function way({ chosen: { view }, words, act }: Scene, to: View, key: Key): TemplateResult {
  const isThere = view === to
  return html`<button class="act" data-way=${to} aria-pressed=${isThere} @click=${() => act({ kind: 'show', view: isThere ? 'sheet' : to })}>
    ${words.say(key)}
  </button>`
}

function failure({ what, lost = [], problem, noWay, isUndo }: Deed, scene: Scene): string {
  const { words } = scene
  const why = noWay ? words.say(noWay) : problem && words.say('keeperSays', { problem: tellProblem(problem, scene) })
  if (what === 'round' && why) return `${words.say('roundLost', { n: lost.length })} ${why}`
  // Others may have been said since: it names its own.
  const names = [...new Set(lost)]
  const marks = named(names)
  if (isUndo) return `${words.say('notUndone', { marks })} ${why ?? ''}`
  return noWay && why ? why : `${marks}: ${why ?? words.say('notHeard', { n: names.length })}`
}

function deedLine(deed: Deed, scene: Scene): TemplateResult | typeof nothing {
  const { words, act } = scene
  // What stood in the way may be gone.
  if (deed.noWay && deed.what !== 'round' && deed.said.length === 0 && !scene.notNow) return nothing
  const [mark, n] = [deed.said[0]?.mark ?? '', deed.said.length]
  const noted =
    deed.what !== 'seen-closed'
      ? words.say(deed.what === 'failed' ? 'failedNoted' : 'cellFittedNoted', { mark })
      : n === 1
        ? words.say('noted', { mark })
        : words.say('notedMany', { n })
  const text = {
    sending: words.say('sending'),
    noted,
    undone: words.say('undone'),
    failed: failure(deed, scene),
  }[deed.state]
  const canUndo = deed.state === 'noted' || (deed.state === 'failed' && n > 0)
  return html`<p class="deed ${deed.state}" role="status" tabindex="-1">
    <span>${text}</span>
    ${
      canUndo
        ? html`<button
            class="act undo"
            aria-label="${words.say('undo')}: ${deed.said.map(each => each.mark).join(', ')}"
            @click=${() => act({ kind: 'undo', deed })}
          >
            ${words.say('undo')}
          </button>`
        : nothing
    }
  </p>`
}
