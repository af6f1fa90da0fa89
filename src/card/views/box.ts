import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Deed } from '../state/deeds.ts'
import { canUndo, tellDeed } from './deed.ts'
import { sectionMark } from './section-mark.ts'

/** One act and its answer in one box that never changes its place or size. */
export interface Box {
  /** What can be said here; absent where there is nothing to say. */
  readonly does?: (() => void) | undefined
  readonly label: string
  /** A smaller line under it. */
  readonly aside?: string | undefined
  /** The family's act, in the weight of its own. */
  readonly isBold?: boolean
  /** Why it cannot be said now. */
  readonly off?: string | undefined
  /** What was said here last. */
  readonly deed?: Deed | undefined
  /** Class of the box. */
  readonly name: string
  /** The sheet that it leads to, instead of saying something. */
  readonly leads?: string
}

export function actBox(box: Box, scene: Scene): TemplateResult {
  const { deed: told, label, does, off, isBold } = box
  const isSending = told?.state === 'sending'
  const isAnswered = told !== undefined && (isSending || (told.state === 'noted' && !does))
  const aside = off ?? box.aside
  const kind = isBold ? 'great-act' : 'act'
  const state = isSending ? 'waits' : told && !isAnswered ? 'answers' : does || told ? '' : 'idle'
  return html`<div class="box ${box.name} ${state} ${off ? 'off' : ''}" data-box>
    ${
      isAnswered
        ? nothing
        : does
          ? html`<button
              class="${kind} ${box.leads ? 'leads' : ''}"
              part=${isBold && !box.leads ? 'act' : nothing}
              aria-disabled=${off ? 'true' : nothing}
              @click=${does}
            >
              ${box.leads ? sectionMark(box.leads) : nothing} <span>${label}</span> ${aside && !told ? html`<small>${aside}</small>` : nothing}
            </button>`
          : html`<p class="nothing-to-say">${label} ${aside && !told ? html`<small>${aside}</small>` : nothing}</p>`
    }
    ${
      told
        ? html`<p class="deed ${told.state} ${isAnswered ? 'alone' : ''}" role="status" tabindex="-1"><span>${tellDeed(told, scene)}</span></p>`
        : nothing
    }
    ${told ? undo(told, scene) : nothing}
  </div>`
}

/** The way back from what was said, where there is one. */
export function undo(deed: Deed, { words, act }: Scene): TemplateResult | typeof nothing {
  if (!canUndo(deed)) return nothing
  return html`<button
    class="act undo"
    aria-label="${words.say('undo')}: ${deed.said.map(each => each.mark).join(', ')}"
    @click=${() => act({ kind: 'undo', deed })}
  >
    ${words.say('undo')}
  </button>`
}
