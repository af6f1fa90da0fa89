/** The smaller drawings as pictures with a name: tally, timeline, forecast, key. */

import { nothing, type TemplateResult } from 'lit'
import { sendsPerOpening } from '../../house/model.ts'
import type { StoryNote } from '../../protocol/story.ts'
import { clamp } from '../../text/clamp.ts'
import { chancesOf } from '../draw/chances.ts'
import { layoutCurve } from '../draw/curve.ts'
import { gatesLabel, layoutGates } from '../draw/gates.ts'
import { drawDay, drawMonths } from '../draw/story.ts'
import { pictureTemplate } from '../draw/templates.ts'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'
import type { Words } from '../words/words.ts'

/** Width of the tally in a row, pixels. */
const GATES_WIDTH = 300
/** Of the drawings of a story; and of what stands beside them on a sheet that is at least so wide. */
const STORY = { least: 240, most: 560, beside: 398, from: 850 } as const

/** As wide as their place: made smaller, their lettering could not be read. */
const storyWidth = ({ area: { width } }: Scene): number =>
  clamp(Math.floor(width < STORY.from ? width - 16 : (width - STORY.beside) * 0.53), STORY.least, STORY.most)

/** Five-bar gates of the present cell. */
export function gatesOf({ reading, opening }: Row, words: Words): TemplateResult | typeof nothing {
  const { sends } = reading
  const each = sendsPerOpening(opening.reports)
  const openings = reading.left
  // Where there may be more nothing is known beyond the middle.
  const end = openings?.atLeast ? openings.p50 : openings?.p95
  const left = openings && { p05: openings.p05 * each, p50: openings.p50 * each, p95: end! * each }
  if (sends === 0 && !left) return nothing
  const label = gatesLabel(
    { sends, left },
    { both: words.raw(openings?.atLeast ? 'gatesAtLeast' : 'gatesBoth'), sent: words.raw('gatesSent') },
    words.lang,
  )
  return pictureTemplate(layoutGates({ sends, left }, GATES_WIDTH), label)
}

/** What one contact did: today, and in thirteen months. */
export function storyOf(row: Row, story: StoryNote, scale: 'day' | 'months', scene: Scene): TemplateResult {
  const { now, house, words } = scene
  const options = { at: now, timezone: house.timezone, width: storyWidth(scene), locale: words.lang }
  const drawn =
    scale === 'months'
      ? drawMonths(story, options)
      : drawDay(story, { ...options, saysShut: row.opening.reports === 'both' })
  return pictureTemplate(drawn, words.say('openings', { n: drawn.openings }))
}

/** How likely the cell still gives so many sends, and where the house's other cells ended. */
export function forecastOf(row: Row, scene: Scene): TemplateResult | typeof nothing {
  const { left, sends } = row.reading
  if (!left) return nothing
  const { words } = scene
  const each = sendsPerOpening(row.opening.reports)
  const curve = layoutCurve(
    {
      points: chancesOf(left).map(({ more, chance }) => ({
        sends: sends + more * each,
        chance,
      })),
      cells: scene.pastCells(),
      sends,
    },
    storyWidth(scene),
    116,
    { axis: words.say('forecastAxis') },
    words.lang,
  )
  return pictureTemplate(curve, words.say('forecast'))
}
