import { html, nothing, type TemplateResult } from 'lit'
import { isSurelyShut } from '../../ledger/headline.ts'
import type { StoryNote } from '../../protocol/story.ts'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import { type Row, toneOf } from '../state/row.ts'
import { tellAgo, tellDoubt, tellGrounds, tellLast, tellLeftInFull, tellPosition, tellRow } from '../words/tell.ts'
import { actBox } from './box.ts'
import { deedFor, ofCellOf, ofLookAt } from './deed.ts'
import { forecastOf, gatesOf, storyOf } from './figures.ts'
import { placeOf } from './place.ts'
import { tag } from './tag.ts'

/** One opening in full: what is known, what that rests on, and what can be said of it. */
export function story(row: Row, scene: Scene): TemplateResult {
  const { opening, reading } = row
  const { words, when, now } = scene
  const { main, note } = tellRow(row, scene)
  const ago = tellAgo(row, scene)
  const told = scene.storyOf(opening.mark)
  const { room = '', name } = opening
  const place = [name.startsWith(room) ? '' : room, placeOf(opening, scene)].filter(Boolean)
  return html`<section class="panel story ${toneOf(row)}" part="story" aria-labelledby="story-title">
    <div class="panel-head">
      ${tag(opening.mark, opening)}
      <h2 id="story-title" tabindex="-1">${opening.name}</h2>
    </div>
    <p class="aside">${place.join(', ')}</p>
    <p class="say">${main}<i>${note && `, ${note}`} ${ago && ` · ${ago}`}</i></p>
    ${storyActs(row, scene)}
    <div class="grounds">
      <h3>${words.say('rests')}</h3>
      <ul>
      <li>${tellGrounds(row, scene)}</li>
      ${
        reading.onTestUntil
          ? html`<li class="warning">${words.say('onTestGrounds', { at: when.at(Date.parse(reading.onTestUntil), now) })}</li>`
          : reading.unheard
            ? html`<li class="warning">${words.say('unheardGrounds', { at: when.at(Date.parse(reading.unheard), now) })}</li>`
            : nothing
      }
      ${reading.against ? html`<li class="warning">${words.say('againstGrounds')}</li>` : nothing}
      ${
        reading.last
          ? html`<li>
              ${words.say(reading.last.how === 'retained' ? 'lastKept' : 'lastWord', {
                word: words.say(`word-${reading.last.word}` as 'word-opened'),
                at: tellLast(reading.last, scene),
                ago: when.ago(Date.parse(reading.last.at), now),
              })}
            </li>`
          : nothing
      }
      <li>
        ${
          reading.provenAt
            ? words.say('proven', { at: when.at(Date.parse(reading.provenAt), now) })
            : words.say('neverProven')
        }
      </li>
      ${reading.doubts.filter(doubt => doubt !== 'untested' || reading.unheardOnWalk).map(doubt => html`<li>${capitalised(tellDoubt(row, doubt, scene))}</li>`)}
      ${opening.power === 'cell' ? cellGrounds(row, scene) : nothing}
    </ul>
    </div>
    <div class="figures">
      ${told ? figures(row, told, scene) : html`<p class="aside">${words.say('storyNone')}</p>`}
      ${
        opening.power === 'cell'
          ? html`<h3>${words.say('tally')}</h3>
              <div class="gates">${gatesOf(row, words)}</div>
              <p class="aside">
                ${words.say('sends', { n: reading.sends })}, ${words.say('openings', { n: reading.openings })}.
                ${tellLeftInFull(row, scene)}
              </p>
              <h3>${words.say('forecast')}</h3>
              ${forecastOf(row, scene)}`
          : html`<p class="aside">${words.say('openings', { n: reading.openings })}</p>`
      }
    </div>
  </section>`
}

/** Whose count it is stands with it: a wall without a keeper tells its own. */
function figures(row: Row, told: StoryNote, scene: Scene): TemplateResult {
  const { words, shown, countedSince, when, now } = scene
  return html`<h3>${words.say('day24')}</h3>
    ${storyOf(row, told, 'day', scene)}
    <h3>${words.say('byMonth')}</h3>
    ${storyOf(row, told, 'months', scene)}
    <p class="aside">
      ${words.say('monthsKey')}${shown === 'own' && countedSince !== undefined ? `; ${words.say('countedHere', { at: when.at(countedSince, now) })}` : nothing}
    </p>`
}

export const capitalised = (text: string): string =>
  `${text.slice(0, 1).toUpperCase()}${text.slice(1)}${text.endsWith('.') ? '' : '.'}`

/** Who saw it shut, and when; or when its contact said so. */
function shutBy(row: Row, { words, when, now }: Scene): string {
  const { seenBy, since } = row.reading
  return seenBy && since
    ? words.say('seenShutBy', { at: when.at(Date.parse(since), now), by: seenBy })
    : tellPosition(row, { words, when, now })
}

/** Each act has its own box, which stays where it is whatever is said. */
function storyActs(row: Row, scene: Scene): TemplateResult {
  const { words, act, maySay, notNow, fresh } = scene
  const { opening, reading } = row
  const { mark } = opening
  if (!maySay) return html`<p class="aside">${words.say('onlyLooks')}</p>`
  const off = notNow && words.say(notNow)
  const looked =
    fresh && isSurelyShut(reading)
      ? { label: words.say('alreadyShut', { what: shutBy(row, scene) }) }
      : { label: words.say('looked'), does: () => act(lookedAt([mark])), isBold: true, off }
  return html`<div class="story-acts">
    ${actBox({ name: 'look-box', ...looked, deed: deedFor(scene, ofLookAt(mark)) }, scene)}
    ${
      opening.power === 'cell'
        ? actBox(
            {
              name: 'cell-box',
              label: words.say('cellFitted'),
              does: () => act({ kind: 'say', what: 'cell-fitted', marks: [mark] }),
              off,
              deed: deedFor(scene, ofCellOf(mark)),
            },
            scene,
          )
        : nothing
    }
  </div>
  ${opening.power === 'cell' ? html`<p class="aside">${words.say('cellCaution')}</p>` : nothing}`
}

/** Silence makes no cell low, so the chance of a cell that runs stands apart from whether it runs. */
function tellNext(
  { next, alive = 1 }: NonNullable<Row['reading']['left']>,
  replaceBelow: number,
  { words, when }: Pick<Scene, 'words' | 'when'>,
): string {
  const limit = when.percent(replaceBelow)
  return alive > 0.995 || alive === 0
    ? words.say('nextThrough', { percent: when.percent(next), limit })
    : words.say('nextIfAlive', { alive: when.percent(alive), percent: when.percent(next / alive), limit })
}

function cellGrounds({ reading, opening: { policy } }: Row, { words, when, now }: Scene): TemplateResult {
  const { left, countedSince } = reading
  const rests = left && left.restsOn.source === 'house'
  return html`${
    left
      ? html`<li>
          ${
            rests
              ? words.say('cellRests', { n: left.restsOn.cells, deaths: left.restsOn.deaths })
              : words.say(left.restsOn.assumed ? 'cellAssumed' : 'cellPractice')
          }
        </li>
        <li>${tellNext(left, policy.replaceBelow, { words, when })}</li>
        ${
          left.slowJoin
            ? html`<li class="warning">
                ${words.say('slowJoinGrounds', { n: left.slowJoin.words, percent: when.percent(left.slowJoin.ratio - 1) })}
              </li>`
            : nothing
        }`
      : nothing
  }${
    countedSince
      ? html`<li>${words.say(left?.sentBefore ? 'cellCountedMore' : 'cellCounted', { at: when.at(Date.parse(countedSince), now) })}</li>`
      : nothing
  }`
}
