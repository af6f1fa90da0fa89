import { html, nothing, type TemplateResult } from 'lit'
import { DAY, HOUR, MINUTE } from '../../text/time.ts'
import { newest } from '../select/opened-since.ts'
import type { Scene } from '../select/scene.ts'
import { toneOf } from '../state/row.ts'
import type { Key } from '../words/en.ts'
import { tellSpan } from '../words/tell.ts'
import { tag } from './tag.ts'

/** Wished beginnings, as times at `now`. */
const CHOICES: readonly (readonly [Key, number])[] = [
  ['lastHour', HOUR],
  ['lastHalfDay', 12 * HOUR],
  ['lastDay', DAY],
  ['lastWeek', 7 * DAY],
]

/** Most gaps that are told: the last ones. */
const MOST_GAPS = 3

/** While you were out: what opened since a time, newest first. */
export function whileOut(scene: Scene): TemplateResult {
  const { words, when, now, act, sinceHome, openedSince, deafSince } = scene
  const at = when.at(sinceHome, now)
  return html`<section class="panel while-out" part="while-out" aria-labelledby="while-out-title">
    <div class="panel-head">
      <h2 id="while-out-title" tabindex="-1">${words.say('whileOut')}: ${words.say('whileOutIntro', { at })}</h2>
    </div>
    <p class="choices">
      ${CHOICES.map(
        ([key, span]) =>
          html`<button
            class="act"
            aria-pressed=${Math.abs(now - span - sinceHome) < MINUTE}
            @click=${() => act({ kind: 'since', time: now - span })}
          >
            ${words.say(key)}
          </button>`,
      )}
    </p>
    ${deafSince.slice(-MOST_GAPS).map(([from, to]) => html`<p class="warn">${words.say('whileOutGap', { from: when.at(from, now), to: when.at(to, now) })}</p>`)}
    ${openedSince && openedSince.length === 0 ? html`<p class="say">${words.say('whileOutNone', { at })}</p>` : nothing}
    <ul class="ticks">
      ${(openedSince ?? []).map(each => {
        const { row, times, lastFrom, hasNoEnd, maybeAgain } = each
        const opened = each.atLeast ? 'whileOutAtLeast' : 'whileOutOpened'
        const last = newest(each)
        const at = tellSpan(lastFrom ?? last, hasNoEnd ? undefined : last, scene)
        const again = maybeAgain ? ` ${words.say('whileOutAgain', { n: maybeAgain })}` : ''
        return html`<li class="tick ${toneOf(row)}">
          ${tag(row.opening.mark, row.opening)}
          <span class="what">
            <bdi class="name">${row.opening.name}</bdi>
            <span class="say">${times.length > 0 ? words.say(opened, { n: times.length, at }) + again : words.say('whileOutShut', { at })}</span>
          </span>
          <button class="act more" data-mark=${row.opening.mark} @click=${() => act({ kind: 'tell', mark: row.opening.mark })}>
            ${words.say('more', { mark: row.opening.mark })}
          </button>
        </li>`
      })}
    </ul>
  </section>`
}
