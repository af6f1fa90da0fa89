import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import { accountForm, refusal } from './account-form.ts'
import { acts } from './acts.ts'
import { elevations, hasElevations } from './elevations.ts'
import { bands, head } from './head.ts'
import { home } from './home.ts'
import { leaving } from './leaving.ts'
import { round } from './round.ts'
import { schedule } from './schedule.ts'
import { capitalised, story } from './story.ts'
import { sourceLine, titleBlock } from './title-block.ts'

/** The whole sheet. */
export function sheet(scene: Scene): TemplateResult {
  const plan = planOf(scene)
  const source = sourceLine(scene)
  const { view, told, isPrinting } = scene.chosen
  const isPlanAlone = view === 'elevations' && !told && !isPrinting
  const shows = plan === nothing ? 'list-only' : isPlanAlone ? 'plan-only' : 'both'
  return html`<div class="frame ${shows} ${isPanel(scene) ? 'with-panel' : ''} ${scene.fresh ? '' : 'stale'}">
    ${head(scene)} ${bands(scene)}
    <p class="printed">${scene.words.say('printed', { at: scene.when.full(scene.now) })} ${source && capitalised(source)}</p>
    ${refusal(scene) === undefined ? nothing : accountForm(scene)}
    ${acts(scene)}
    <main class="body">
      ${plan === nothing ? nothing : html`<div class="plan">${plan}</div>`}
      ${schedule(scene)}
    </main>
    ${titleBlock(scene)}
  </div>`
}

const isPanel = ({ chosen: { told, view, isPrinting } }: Scene): boolean =>
  !isPrinting && (told !== undefined || view === 'leaving' || view === 'home' || view === 'round')

function planOf(scene: Scene): TemplateResult | typeof nothing {
  // On paper the house stands beside its schedule, whatever is looked at.
  const { chosen } = scene
  if (chosen.isPrinting) return hasElevations(scene) ? drawn(scene) : nothing
  const told = chosen.told === undefined ? undefined : scene.rowOf(chosen.told)
  if (told) return story(told, scene)
  switch (chosen.view) {
    case 'leaving':
      return leaving(scene)
    case 'home':
      return home(scene)
    case 'round':
      return round(scene)
    case 'schedule':
      return nothing
    default:
      return hasElevations(scene) ? drawn(scene) : nothing
  }
}

/** A drawing that fails must not take the headline and the schedule with it. */
function drawn(scene: Scene): TemplateResult | typeof nothing {
  try {
    return elevations(scene)
  } catch (error) {
    reportError(error)
    return nothing
  }
}
