import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import { acts } from './acts.ts'
import { elevations, hasElevations } from './elevations.ts'
import { head } from './head.ts'
import { jobs } from './jobs.ts'
import { lastLook, lastLookSteps } from './last-look.ts'
import { type Panel, panelOf } from './panel.ts'
import { round, roundSteps } from './round.ts'
import { schedule } from './schedule.ts'
import { signs, signsKey } from './signs.ts'
import { capitalised, story } from './story.ts'
import { strip } from './strip.ts'
import { sourceLine, titleBlock } from './title-block.ts'
import { whileOut } from './while-out.ts'

/** How much of the sheet is drawn: its frame and headline first, then the house, then the rest. */
export type Stage = 'frame' | 'house' | 'all'

/** The whole sheet: what is in it changes, where it is does not. */
export function sheet(scene: Scene, stage: Stage = 'all'): TemplateResult {
  const { words } = scene
  return html`<div class="frame ${shape(scene)} ${scene.fresh ? '' : 'stale'}">
    ${head(scene)} ${strip(scene)}
    <button class="skip" @click=${skip}>${words.say('skip')}</button>
    <main class="body">${stage === 'frame' ? nothing : body(scene, stage)}</main>
    ${acts(scene)} ${scene.chosen.isPrinting ? printed(scene) : titleBlock(scene)}
  </div>`
}

/** At the foot of the paper: what the signs mean, who looked, and of when all this is. */
function printed(scene: Scene): TemplateResult {
  const { words, when, now, house } = scene
  const source = sourceLine(scene)
  return html`<footer class="printed">
    ${signsKey(words)}
    <p class="looked-by">${words.say('lookedBy')}</p>
    <div>
      <p class="house-name">${house.name}</p>
      <p>${words.say('printed', { at: when.full(now) })} ${source && capitalised(source)}</p>
      <p>${words.say('notAlarm')}</p>
    </div>
  </footer>`
}

/** Past hundreds of openings with one key. */
const skip = (event: Event): void =>
  (event.currentTarget as HTMLElement).parentElement?.querySelector<HTMLElement>('.acts button')?.focus()

/** A walk is drawn on the house, its list under it. */
const isWalk = (panel: Panel | undefined): boolean => panel === 'last-look' || panel === 'round'

const hasPlan = (scene: Scene): boolean =>
  hasElevations(scene) && (scene.chosen.isPrinting || scene.chosen.view !== 'schedule')

function shape(scene: Scene): string {
  // Nobody knows yet how large it is.
  if (scene.area.width === 0 && !scene.chosen.isPrinting) return 'both'
  const panel = panelOf(scene)
  const isWide = scene.area.height > 0
  if (panel)
    return `with-panel at-${panel} ${isWalk(panel) && hasPlan(scene) ? `walks ${isWide && scene.layout().isBeside ? 'is-beside' : ''}` : ''}`
  if (!hasPlan(scene)) return 'list-only'
  if (scene.chosen.view === 'elevations' && !scene.chosen.isPrinting) return 'plan-only'
  return `both ${scene.layout().isBeside ? 'is-beside' : ''}`
}

function body(scene: Scene, stage: Stage): TemplateResult {
  const panel = panelOf(scene)
  const rest = stage === 'all' || !hasPlan(scene)
  if (isWalk(panel)) {
    const steps = panel === 'round' ? roundSteps(scene) : lastLookSteps(scene)
    return html`${plan(scene, steps)} ${rest ? panelView(panel!, scene) : nothing}`
  }
  const list = () => html`<div class="list">${schedule(scene)} ${jobs(scene)}</div>`
  if (panel === 'signs') return panelView(panel, scene)
  if (panel) return html`${panelView(panel, scene)} ${rest ? list() : nothing}`
  return html`${plan(scene)} ${rest ? list() : nothing}`
}

function panelView(panel: Panel, scene: Scene): TemplateResult {
  switch (panel) {
    case 'story':
      return story(scene.rowOf(scene.chosen.told!)!, scene)
    case 'last-look':
      return lastLook(scene)
    case 'while-out':
      return whileOut(scene)
    case 'round':
      return round(scene)
    case 'signs':
      return signs(scene)
  }
}

/** A drawing that fails must not take the headline and the schedule with it. */
function plan(scene: Scene, steps?: ReturnType<typeof roundSteps>): TemplateResult | typeof nothing {
  if (!hasPlan(scene)) return nothing
  try {
    return html`<div class="plan">${elevations(scene, steps)}</div>`
  } catch (error) {
    reportError(error)
    return nothing
  }
}
