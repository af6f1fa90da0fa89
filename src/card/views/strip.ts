import { html, nothing, type TemplateResult } from 'lit'
import { MINUTE } from '../../text/time.ts'
import type { Scene } from '../select/scene.ts'
import { named } from '../words/tell.ts'
import { tellKeeper } from '../words/tell-keeper.ts'
import { accountForm, accountTitle, refusal, refusesAccount } from './account-form.ts'
import { undo } from './box.ts'
import { calmGrounds } from './calm.ts'
import { deedsElsewhere, tellDeed } from './deed.ts'

/**
 * What tablet and keeper have to say: one line, always in its place. The first of several messages stands in it; opened
 * it shows them all in full, over the drawing, so that nothing gives way.
 */
export function strip(scene: Scene): TemplateResult {
  const { words } = scene
  const others = deedsElsewhere(scene)
  const failures = others.filter(({ state }) => state === 'failed').map(deed => tellDeed(deed, scene))
  const bands = messages(scene)
  const lines = [...failures, ...bands]
  const asks = refusal(scene) !== undefined
  const [first] = lines
  return html`<section class="strip" aria-label=${words.say('messages')}>
    <details ?open=${asks && !scene.accountKept}>
      <summary class=${first ? 'warns' : ''}>
        ${first ? html`<span class="alert" aria-hidden="true">${lines.length}</span>` : nothing}
        <span class="first" aria-hidden="true">${first ?? linkLine(scene)}</span>
        <span class="unseen-by-eye">${words.say('messageOf', { n: lines.length })}</span>
        ${lines.length > 1 ? html`<span class="of" aria-hidden="true">${words.say('stepOf', { n: 1, of: lines.length })}</span>` : nothing}
      </summary>
      <div class="in-full">
        ${refusesAccount(scene.link.standing) ? nothing : html`<p class="link ${scene.fresh ? '' : 'stale'}">${linkLine(scene)}</p>`}
        ${scene.head.allShut ? html`<p>${calmGrounds(scene)}</p>` : nothing}
        ${asks ? accountForm(scene) : nothing}
        ${others.map(
          deed =>
            html`<div class="elsewhere">
              <p class="deed ${deed.state}" role="status" tabindex="-1"><span>${tellDeed(deed, scene)}</span></p>
              ${undo(deed, scene)}
            </div>`,
        )}
        <div class="bands" part="bands">${bands.map(line => html`<p>${line}</p>`)}</div>
      </div>
    </details>
  </section>`
}

/** What must be known before anything else on the sheet is believed: one line each, the gravest first. */
function messages(scene: Scene): readonly string[] {
  const { words, when, now, clock, knownAt, shown, link } = scene
  const { standing } = link
  const lines: string[] = []
  if (standing.state === 'off' && standing.fault === 'mixed') lines.push(words.say('mixed'))
  if (standing.state === 'off' && standing.fault === 'bad') lines.push(words.say('badBroker', { text: scene.broker }))
  const linkLive = standing.state === 'live'
  if (linkLive && shown === 'kept') {
    const at = scene.keeperSaidAt === undefined ? '' : when.at(scene.keeperSaidAt, now)
    if (standing.partial && !scene.keeperSilent) lines.push(words.say('partlyBand'))
    else lines.push(words.say(scene.keeperAwaited ? 'keeperAwaitedKept' : 'staleKeeper', { at }))
  }
  if (linkLive && shown === 'own') {
    if (scene.keeperSilent) lines.push(words.say(scene.keeperAwaited ? 'keeperAwaited' : 'keeperSilentBand'))
    else if (standing.partial) lines.push(words.say('partlyBand'))
    if (scene.heardNothing) lines.push(words.say('heardNothing'))
  }
  const tests = onTest(scene)
  if (tests) lines.push(tests)
  if (linkLive && scene.keeperNote) lines.push(...tellKeeper(scene.keeperNote, scene))
  if (scene.registerTrouble) lines.push(words.say('registerKept'))
  if (!linkLive) {
    const at = shown === 'kept' ? scene.keeperSaidAt : knownAt
    lines.push(at === undefined ? words.say('staleBandNever') : words.say('staleBand', { at: when.at(at, now) }))
  }
  if (clock.watched?.isWrong) lines.push(words.say('clockWrong'))
  else if (clock.jumped) lines.push(words.say('clockJumped', { span: when.span(Math.abs(clock.jumped.by)) }))
  if (scene.otherPage && shown === 'own') lines.push(words.say('otherPage'))
  if (!scene.kept && shown === 'own') lines.push(words.say('notKept'))
  if (!scene.forecasts && shown === 'own') lines.push(words.say('noForecast'))
  return lines
}

/** Of these openings nothing counts that their contacts say now. */
function onTest({ rows, words, when, now }: Scene): string | undefined {
  const tested = rows.filter(({ reading }) => reading.onTestUntil !== undefined)
  if (tested.length === 0) return undefined
  const until = Math.max(...tested.map(({ reading }) => Date.parse(reading.onTestUntil!)))
  const marks = named(tested.map(({ opening }) => opening.mark))
  return words.say('onTestBand', { n: tested.length, marks, at: when.at(until, now) })
}

export function linkLine({ link, accountKept, words, when, now }: Scene): string {
  const { standing, lastWordAt } = link
  switch (standing.state) {
    case 'live':
      if (standing.partial) return words.say('partly')
      return lastWordAt === undefined
        ? words.say('liveNoWord')
        : words.say('liveWord', {
            ago: now - lastWordAt < MINUTE ? words.say('agoUnderMinute') : when.ago(lastWordAt, now),
          })
    case 'connecting':
      return words.say('connecting')
    case 'down':
      return words.say('down', { at: when.at(standing.since, now) })
    case 'refused':
      return standing.account
        ? words.say(accountTitle({ link, accountKept }))
        : words.say('refused', { why: standing.why })
    case 'off':
      return words.say(standing.fault === 'mixed' ? 'mixed' : 'noBroker')
  }
}
