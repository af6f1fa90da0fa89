import { layoutHouse } from '../draw/layout.ts'
import type { Layout } from '../draw/plan.ts'
import type { CardHouse } from '../state/house.ts'
import { remembering } from './remembering.ts'

/** Room at both sides for captions wider than their elevation, pixels. */
const MARGIN = 10
/** Width of a window under which sides go to further pages: 5 minutes of arc from 3 m on a 10-inch tablet. */
const LEAST_SHAPE = 26
/** The same under a band: what is not live is better a little small than out of sight. */
const LEAST_NOT_LIVE = 22
/** Room for the drawing on paper, pixels: an A4 page within its margins. */
const PAPER = { width: 720, height: 900 }
/** Height of the button that turns the page, pixels. */
const TURN = 54

/** Layouts of one card: its house is laid out again only when it or its area changes. */
export class Layouts {
  readonly #onScreen = remembering(fitted)
  readonly #onPaper = remembering(onPaper)

  /** @param area - of the drawing's place, pixels; height 0: as high as it needs */
  onScreen(house: CardHouse, { width, height }: { width: number; height: number }, fresh: boolean): Layout {
    return this.#onScreen(house, width - 2 * MARGIN, height, fresh ? LEAST_SHAPE : LEAST_NOT_LIVE)
  }

  onPaper(house: CardHouse): Layout {
    return this.#onPaper(house)
  }
}

function fitted(house: CardHouse, width: number, height: number, minShape: number): Layout {
  const within = (room: number) => layoutHouse(house, { width, minShape, ...(room > 0 ? { height: room } : {}) })
  const whole = within(height)
  return whole.pages.length > 1 && height > TURN ? within(height - TURN) : whole
}

/** On paper there is no page to turn: all sides as high as they need to be, or as many sheets as keep them readable. */
function onPaper(house: CardHouse): Layout {
  const whole = fitted(house, PAPER.width, 0, LEAST_SHAPE)
  return whole.height > PAPER.height ? fitted(house, PAPER.width, PAPER.height, LEAST_SHAPE) : whole
}
