import { html, nothing, type TemplateResult } from 'lit'
import { nextStep, type Round, reachedOf, reportRound, roundCost, type Step } from '../../ledger/round.ts'
import type { StepShown } from '../draw/step.ts'
import type { Scene } from '../select/scene.ts'
import type { KeptRound } from '../state/walk.ts'
import type { Key } from '../words/en.ts'
import { actBox } from './box.ts'
import { deedFor, ofTest } from './deed.ts'
import { placeOf } from './place.ts'
import { tag } from './tag.ts'

/** Each opening of the walk with its number and how far it has come: for the drawing. */
export function roundSteps({ walk, planned }: Scene): ReadonlyMap<string, StepShown> {
  const round = walk.round ?? planned
  const next = walk.round && nextStep(walk.round)
  const stateOf = (step: Step): StepShown['state'] =>
    step.heardAt !== undefined ? 'done' : step.failed ? 'failed' : step === next ? 'next' : 'waiting'
  const steps = (round?.steps ?? []).map((step, index) => ({ step, number: index + 1 }))
  return new Map(
    steps.filter(({ step }) => !step.leftOut).map(({ step, number }) => [step.mark, { number, state: stateOf(step) }]),
  )
}

/** The walk round the house: its cost first, then each opening ticked as its word arrives, then the report. */
export function round(scene: Scene): TemplateResult {
  const { words } = scene
  return html`<section class="panel round ${scene.walk.round ? 'walking-now' : ''}" part="round" aria-labelledby="round-title">
    <div class="panel-head">
      <h2 id="round-title" tabindex="-1">${words.say('round')}</h2>
      ${scene.walk.round ? progress(scene.walk.round, scene) : nothing}
    </div>
    ${scene.walk.round ? html`<div class="walking">${walking(scene.walk.round, scene)}</div>` : before(scene)}
  </section>`
}

function before(scene: Scene): TemplateResult {
  const { words, act, planned, walk } = scene
  const cost = planned ? roundCost(planned) : 0
  const left = planned?.steps.filter(step => step.naturalAt) ?? []
  return html`<div class="before">
    ${walk.last ? kept(walk.last, scene) : nothing}
    <div>
    <p class="say">${cost > 0 ? words.say('roundCost', { n: cost }) : words.say('roundCostNone')}</p>
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
    </div>
    <ol class="ticks">${planned?.steps.map(step => stepRow(step, false, false, scene))}</ol>
  </div>`
}

function kept({ at, heard, missing, failed = [], notReached = [] }: KeptRound, scene: Scene): TemplateResult {
  const { words, when, now } = scene
  const unheard = missing.filter(mark => !failed.includes(mark) && !notReached.includes(mark))
  const warning = (key: Key, marks: readonly string[]) =>
    marks.length > 0 ? html`<p class="warn">${words.say(key)}: ${marks.join(', ')}</p>` : nothing
  return html`<div class="kept">
    <h3>${words.say('roundReport', { at: when.at(Date.parse(at), now) })}</h3>
    <p>${missing.length > 0 && heard.length === 0 ? words.say('roundNothing') : words.say('roundProgress', { n: heard.length, of: heard.length + missing.length })}</p>
    ${warning('roundFailed', failed)} ${warning('roundMissed', unheard)}
    ${missing.length > 0 ? html`<p class="say">${words.say('roundAgain')}</p>` : nothing}
    ${warning('roundNotReached', notReached)}
    <p class="aside">${words.say('roundKept')}</p>
  </div>`
}

function walking(walk: Round, scene: Scene): TemplateResult {
  const next = nextStep(walk)
  const reached = reachedOf(walk)
  return html`<div class="now">
      ${next ? nextCard(next, walk.steps.indexOf(next) + 1, scene) : nothing}
    </div>
    <ol class="ticks" tabindex="0">
      ${walk.steps.map((step, index) => stepRow(step, step === next, index <= reached, scene))}
    </ol>
    <p class="aside">${scene.words.say('roundDoubt')}</p>`
}

const progress = (walk: Round, { words }: Scene): TemplateResult =>
  html`<p class="say" role="status">${words.say('roundProgress', progressOf(walk))}</p>`

/** Of the openings that are walked to, those that were heard. */
export function progressOf(walk: Round): { readonly n: number; readonly of: number } {
  const { heard, missing } = reportRound(walk)
  return { n: heard.length, of: heard.length + missing.length }
}

/** On a walk: what one can do at the window, in the place of the ways to other sheets. */
export function walkActs(walk: Round, scene: Scene): TemplateResult {
  const { words, act, maySay } = scene
  const next = nextStep(walk)
  // As it stands on the drawing and over the list.
  const n = next ? walk.steps.indexOf(next) + 1 : 0
  return html`<nav class="acts walk-acts" part="acts" aria-label=${words.say('acts')}>
    ${maySay ? failedBox(next, n, scene) : nothing}
    ${next ? html`<button class="act" data-box @click=${() => act({ kind: 'walk-past', mark: next.mark })}>${words.say('roundSkip', { mark: next.mark })}</button>` : nothing}
    <button class="act" @click=${() => act({ kind: 'end-round' })}>${words.say('roundStop')}</button>
    <button class="act" @click=${() => act({ kind: 'back' })}>${words.say('back')}</button>
  </nav>`
}

/** Of a contact on mains one cannot say that its cell failed. */
function failedBox(next: Step | undefined, n: number, scene: Scene): TemplateResult {
  const { words, act, notNow } = scene
  const label = words.say('roundFailed')
  const isCell = next?.power === 'cell'
  return actBox(
    {
      name: 'walk-box',
      label,
      ...(isCell
        ? { does: () => act({ kind: 'say', what: 'failed', marks: [next.mark] }), aside: `${n} ${next.mark}` }
        : {}),
      off: notNow && words.say(notNow),
      deed: deedFor(scene, ofTest),
    },
    scene,
  )
}

/** What one does now, to be read from the window. */
function nextCard({ mark, name, at }: Step, number: number, scene: Scene): TemplateResult {
  const { words } = scene
  return html`<div class="next-card">
    <b class="number">${number}</b> ${tag(mark, scene.rowOf(mark)?.opening)}
    <p class="name">${name} <small>${placeOf(at ? { at } : {}, scene)}</small></p>
    <p>${words.say('walkOpen')}</p>
  </div>`
}

function stepRow(step: Step, isNext: boolean, isReached: boolean, scene: Scene): TemplateResult {
  const { words, when, now, act, maySay } = scene
  const place = placeOf(step.at ? { at: step.at } : {}, scene)
  const state =
    step.heardAt !== undefined
      ? words.say('roundHeard', { at: when.clock(Date.parse(step.heardAt)) })
      : step.leftOut
        ? step.naturalAt
          ? words.say('roundNatural', { at: when.at(Date.parse(step.naturalAt), now) })
          : words.say('roundSkipped')
        : !scene.walk.round
          ? ''
          : words.say(step.failed ? 'roundFailed' : isNext ? 'roundNext' : 'roundWaiting')
  return html`<li class="tick ${step.heardAt ? 'done' : ''} ${isNext ? 'next' : ''}" aria-current=${isNext ? 'step' : 'false'}>
    ${tag(step.mark, scene.rowOf(step.mark)?.opening)}
    <span class="what"
      ><bdi class="name">${step.name}</bdi> <span class="say">${[state, place].filter(Boolean).join(' · ')}</span></span
    >
    ${
      maySay &&
      isReached &&
      !isNext &&
      step.heardAt === undefined &&
      !step.failed &&
      !step.leftOut &&
      step.power === 'cell'
        ? html`<button class="act" aria-label="${words.say('roundFailed')}: ${step.mark}" @click=${() => act({ kind: 'say', what: 'failed', marks: [step.mark] })}>
            ${words.say('roundFailed')}
          </button>`
        : nothing
    }
  </li>`
}
