import { html, nothing, type TemplateResult } from 'lit'
import { nextStep, type Round, reachedOf, reportRound, roundCost, type Step } from '../../ledger/round.ts'
import type { Scene } from '../select/scene.ts'
import type { KeptRound } from '../state/walk.ts'
import { back, floorName } from './story.ts'

/** The walk round the house: its cost first, then each opening ticked as its word arrives, then the report. */
export function round(scene: Scene): TemplateResult {
  const { words } = scene
  return html`<section class="panel round" part="round" aria-labelledby="round-title">
    <div class="panel-head">
      <h2 id="round-title" tabindex="-1">${words.say('round')}</h2>
      ${back(scene)}
    </div>
    ${scene.walk.round ? walking(scene.walk.round, scene) : before(scene)}
  </section>`
}

function before(scene: Scene): TemplateResult {
  const { words, act, planned, walk } = scene
  const cost = planned ? roundCost(planned) : 0
  const left = planned?.steps.filter(step => step.naturalAt) ?? []
  return html`<p class="say">${cost > 0 ? words.say('roundCost', { n: cost }) : words.say('roundCostNone')}</p>
    <p class="aside">${words.say('roundIntro')}</p>
    ${
      left.length > 0
        ? html`<label class="choice">
            <input
              type="checkbox"
              .checked=${walk.leaveOutNatural}
              @change=${(event: Event) => act({ kind: 'leave-out', natural: (event.target as HTMLInputElement).checked })}
            />
            ${words.say('roundLeaveOut', { n: left.length })}
          </label>`
        : nothing
    }
    <p><button class="great-act" @click=${() => planned && act({ kind: 'start-round', round: planned })}>${words.say('roundStart')}</button></p>
    ${walk.last ? kept(walk.last, scene) : nothing}`
}

function kept({ at, heard, missing, failed = [] }: KeptRound, { words, when, now }: Scene): TemplateResult {
  const unheard = missing.filter(mark => !failed.includes(mark))
  return html`<h3>${words.say('roundReport', { at: when.at(Date.parse(at), now) })}</h3>
    <p>${words.say('roundProgress', { n: heard.length, of: heard.length + missing.length })}</p>
    ${failed.length > 0 ? html`<p class="warn">${words.say('roundFailed')}: ${failed.join(', ')}</p>` : nothing}
    ${unheard.length > 0 ? html`<p class="warn">${words.say('roundMissed')}: ${unheard.join(', ')}</p>` : nothing}
    <p class="aside">${words.say('roundKept')}</p>`
}

function walking(walk: Round, scene: Scene): TemplateResult {
  const { words, act } = scene
  const next = nextStep(walk)
  const { heard, missing } = reportRound(walk)
  const reached = reachedOf(walk)
  return html`<p class="say" role="status">
      ${words.say('roundProgress', { n: heard.length, of: heard.length + missing.length })}
    </p>
    <p class="aside">${words.say('roundIntro')}</p>
    <ol class="ticks">
      ${walk.steps.map((step, index) => stepRow(step, step === next, index <= reached, scene))}
    </ol>
    <p><button class="great-act" @click=${() => act({ kind: 'end-round' })}>${words.say('roundStop')}</button></p>
    <p class="aside">${words.say('roundDoubt')}</p>`
}

function stepRow(step: Step, isNext: boolean, isReached: boolean, scene: Scene): TemplateResult {
  const { words, when, now, act, maySay } = scene
  const place = [step.at && floorName(step.at.floor, scene), step.at?.side].filter(Boolean).join(', ')
  const state =
    step.heardAt !== undefined
      ? words.say('roundHeard', { at: when.clock(Date.parse(step.heardAt)) })
      : step.leftOut
        ? words.say('roundNatural', { at: when.at(Date.parse(step.naturalAt ?? step.heardAt ?? ''), now) })
        : words.say(step.failed ? 'roundFailed' : isNext ? 'roundNext' : 'roundWaiting')
  return html`<li class="tick ${step.heardAt ? 'done' : ''} ${isNext ? 'next' : ''}" aria-current=${isNext ? 'step' : 'false'}>
    <span class="tag">${step.mark}</span>
    <span class="what"
      ><bdi class="name">${step.name}</bdi> <span class="say"><i>${place}</i> ${state}</span></span
    >
    ${
      maySay && isReached && step.heardAt === undefined && !step.failed && !step.leftOut && step.power === 'cell'
        ? html`<button class="act" aria-label="${words.say('roundFailed')}: ${step.mark}" @click=${() => act({ kind: 'say', what: 'failed', marks: [step.mark] })}>
            ${words.say('roundFailed')}
          </button>`
        : nothing
    }
  </li>`
}
