import { html, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'

/** One line along the foot of the sheet: the house, whose tally this is, and what it is not. */
export function titleBlock(scene: Scene): TemplateResult {
  const { words, house } = scene
  return html`<footer class="title-block" part="title-block">
    <span class="house-name">${house.name}</span>
    <span class="source">${sourceLine(scene)}</span>
    <span class="not-alarm">${words.say('notAlarm')}</span>
  </footer>`
}

/** Whose readings these are, and since when they are counted. */
export function sourceLine(scene: Scene): string {
  const { words, when, now, countedSince, beatAt } = scene
  if (scene.shown !== 'own') {
    return beatAt === undefined ? '' : words.say('fromKeeper', { ago: when.ago(beatAt, now) })
  }
  if (countedSince === undefined) return ''
  return words.say(scene.keeperSilent && !scene.keeperAwaited ? 'keeperGone' : 'countedHere', {
    at: when.at(countedSince, now),
  })
}
