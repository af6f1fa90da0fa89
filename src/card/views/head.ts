import { html, nothing, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Key } from '../words/en.ts'
import { named, tellProblem } from '../words/tell.ts'
import type { Fill } from '../words/words.ts'
import { tellTrouble } from './no-house.ts'

/** The headline, the counts and the house's time. */
export function head(scene: Scene): TemplateResult {
  const { head, when, now } = scene
  // What is not certain must not go under as soon as one is open; who is untested is counted already.
  const unsure = head.mayBeOpen > 0 ? head.unsure : 0
  return html`<header class="head" part="head">
    <h1 class="headline ${headTone(scene)}" part="headline" tabindex="-1">${pieces(scene, ...headline(scene))}</h1>
    <ul class="counts" part="counts">
      ${head.open > 0 ? count(scene, 'openNow', head.open, 'open') : nothing}
      ${head.opened > 0 ? count(scene, 'notSeenShut', head.opened, 'unseen') : nothing}
      ${unsure > 0 ? count(scene, 'unsure', unsure, 'doubt') : nothing}
      ${head.untested > 0 ? count(scene, 'untestedCount', head.untested, 'doubt') : nothing}
    </ul>
    <p class="time"><time class="clock">${when.clock(now)}</time> <span class="date">${when.day(now)}</span></p>
  </header>`
}

const headTone = ({ head }: Scene): string => (head.mayBeOpen > 0 ? 'unseen' : head.allShut ? 'shut' : 'doubt')

/** The sentence over the whole sheet, for eye and ear. */
export function headline({ head, fresh }: Pick<Scene, 'head' | 'fresh'>): readonly [Key, Fill?] {
  if (head.mayBeOpen > 0) return ['mayBeOpen', { n: head.mayBeOpen }]
  if (head.allShut) return ['allShut']
  if (head.notCertain === 0 && !fresh) return ['noneHeardStale']
  return ['noneHeard', { n: head.notCertain }]
}

const count = (scene: Scene, key: Key, n: number, tone: string) =>
  html`<li class=${tone}>${pieces(scene, key, { n })}</li>`

/** A sentence whose number stands out. */
function pieces({ words }: Scene, key: Key, fill?: Fill): readonly unknown[] {
  return words.pieces(key, fill).map(({ text, blank }) => (blank ? html`<b>${text}</b>` : text))
}

/** What must be known before anything else on the sheet is believed: one line each. */
export function bands(scene: Scene): TemplateResult {
  const { words, when, now, jumped, knownAt, shown, link } = scene
  const { standing } = link
  const lines: string[] = []
  if (standing.state === 'off' && standing.fault === 'mixed') lines.push(words.say('mixed'))
  if (standing.state === 'off' && standing.fault === 'bad') lines.push(words.say('badBroker', { text: scene.broker }))
  const linkLive = standing.state === 'live'
  if (linkLive && shown === 'kept') {
    const at = scene.keeperSaidAt === undefined ? '' : when.at(scene.keeperSaidAt, now)
    if (standing.partial && !scene.keeperSilent) lines.push(words.say('partlyBand', { why: standing.partial }))
    else lines.push(words.say(scene.keeperAwaited ? 'keeperAwaitedKept' : 'staleKeeper', { at }))
  }
  if (linkLive && shown === 'own') {
    if (scene.keeperSilent) lines.push(words.say(scene.keeperAwaited ? 'keeperAwaited' : 'keeperSilentBand'))
    else if (standing.partial) lines.push(words.say('partlyBand', { why: standing.partial }))
    if (scene.heardNothing) lines.push(words.say('heardNothing'))
  }
  const tests = onTest(scene)
  if (tests) lines.push(tests)
  if (linkLive && scene.keeperProblem) {
    lines.push(words.say('keeperSays', { problem: tellProblem(scene.keeperProblem, scene) }))
  }
  if (scene.registerTrouble) lines.push(words.say('registerKept', { why: tellTrouble(scene.registerTrouble, words) }))
  if (!linkLive) {
    const at = shown === 'kept' ? scene.keeperSaidAt : knownAt
    lines.push(at === undefined ? words.say('staleBandNever') : words.say('staleBand', { at: when.at(at, now) }))
  }
  if (jumped) lines.push(words.say('clockJumped', { span: when.span(Math.abs(jumped.by)) }))
  if (scene.otherPage && shown === 'own') lines.push(words.say('otherPage'))
  if (!scene.kept && shown === 'own') lines.push(words.say('notKept'))
  return html`<div class="bands" part="bands">${lines.map(line => html`<p>${line}</p>`)}</div>`
}

/** Of these openings nothing counts that their contacts say now. */
function onTest({ rows, words, when, now }: Scene): string | undefined {
  const tested = rows.filter(({ reading }) => reading.onTestUntil !== undefined)
  if (tested.length === 0) return undefined
  const until = Math.max(...tested.map(({ reading }) => Date.parse(reading.onTestUntil!)))
  const marks = named(tested.map(({ opening }) => opening.mark))
  return words.say('onTestBand', { n: tested.length, marks, at: when.at(until, now) })
}
