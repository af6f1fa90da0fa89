import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import { type Row, toneOf } from '../state/row.ts'
import { tellJob } from '../words/tell.ts'
import { gatesOf } from './figures.ts'
import { placeOf } from './place.ts'
import { tag } from './tag.ts'

/** The cells to see to next, with where they are; or that none is due. */
export function jobs(scene: Scene): TemplateResult {
  const { words, when, now } = scene
  const { due, more, nextAt } = scene.jobs()
  const cells = scene.rows.filter(({ opening }) => opening.power === 'cell')
  const isUnknown = cells.length > 0 && !cells.some(({ reading }) => reading.left)
  return html`<section class="jobs" aria-labelledby="jobs-title">
    <h2 id="jobs-title">${words.say('jobs')}</h2>
    ${due.length === 0 ? html`<p class="aside">${words.say(isUnknown ? 'jobsUnknown' : 'jobsNone')}</p>` : html`<ol>${due.map(row => job(row, scene))}</ol>`}
    ${more > 0 ? html`<p class="aside">${words.say('jobsMore', { n: more })}</p>` : nothing}
    ${more === 0 && nextAt !== undefined ? html`<p class="aside">${words.say('jobsNext', { month: when.month(nextAt, now) })}</p>` : nothing}
  </section>`
}

function job(row: Row, scene: Scene): TemplateResult {
  const { words, act } = scene
  const { opening } = row
  return html`<li class="job ${toneOf(row)}">
    <button class="more" data-mark=${opening.mark} @click=${() => act({ kind: 'tell', mark: opening.mark })}>
      ${tag(opening.mark, opening)}
      <span class="what">
        <span class="name"><bdi>${opening.name}</bdi> <small>${placeOf(opening, scene)}</small></span>
        <span class="left-now">${tellJob(row, scene)}</span>
        <span class="gates">${gatesOf(row, words)}</span>
      </span>
    </button>
  </li>`
}
