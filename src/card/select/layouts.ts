import { type Sketch, sketcher } from '../draw/layout.ts'
import type { Area, Layout } from '../draw/plan.ts'
import type { CardHouse } from '../state/house.ts'
import { remembering } from './remembering.ts'

/** The drawing, and where the schedule stands beside it. */
export interface Placed extends Layout {
  /** False: under it. */
  readonly isBeside: boolean
}

/** Width of a window under which sides go to further pages: 5 minutes of arc from 3 m on a 10-inch tablet. */
const LEAST_SHAPE = 26
/** Rows of the schedule under the drawing: so many at least, and one more where the sheet is high. */
const ROW = 45
const ROWS = { least: 3, tall: 4, from: 540 } as const
const HEADING = 38
/** Widths between which the schedule has no heading of its own. */
const BARE_LIST = { from: 900, to: 1200 } as const
export const isBareList = ({ width }: { readonly width: number }): boolean =>
  width >= BARE_LIST.from && width < BARE_LIST.to
/** Width of the schedule beside a drawing, with the gap before it. */
const BESIDE = 378
/** Room for the drawing on paper, pixels: an A4 page within its margins. */
const PAPER = { width: 720, height: 900 }
/** Height of the buttons that turn the page, pixels. */
const TURN = 52
/** A phone shows one side at a time: height of that for its width. */
const PHONE = { share: 0.86, least: 250, most: 340 } as const

/** Draws for one house; its schedule takes the place that the drawing leaves. */
type Draughtsman = (area: Area) => Sketch

/** Layouts of one card: its house is laid out again only when it or its area changes. */
export class Layouts {
  readonly #measured = remembering((house: CardHouse): Draughtsman => {
    const sketch = sketcher(house)
    return area => sketch({ minShape: LEAST_SHAPE, ...area })
  })
  readonly #onScreen = remembering(onScreen)
  readonly #onPaper = remembering(onPaper)

  /** @param area - of drawing and schedule together, pixels; height 0: the sheet scrolls, as on a phone */
  onScreen(house: CardHouse, { width, height }: { width: number; height: number }): Placed {
    return this.#onScreen(this.#measured(house), width, height)
  }

  onPaper(house: CardHouse): Placed {
    return this.#onPaper(this.#measured(house))
  }
}

function paged(sketch: Draughtsman, area: Area & { readonly height: number }): Sketch {
  const whole = sketch(area)
  return whole.pageCount > 1 ? sketch({ ...area, height: Math.max(0, area.height - TURN) }) : whole
}

/** The schedule goes under the house; beside it where that alone keeps all sides in sight, or draws them much larger. */
function onScreen(sketch: Draughtsman, width: number, height: number): Placed {
  const hasToday = true
  if (height === 0) {
    const tall = Math.min(PHONE.most, Math.max(PHONE.least, width * PHONE.share))
    return { ...sketch({ width, height: tall, perPage: 1, growth: 1.1, hasToday }).layOut(), isBeside: false }
  }
  const rows = height < ROWS.from ? ROWS.least : ROWS.tall
  const list = rows * ROW + (isBareList({ width }) ? 8 : HEADING)
  const under = paged(sketch, { width, height: Math.max(0, height - list), growth: 1.08, hasToday })
  const beside = paged(sketch, { width: Math.max(0, width - BESIDE), height, hasToday })
  const isAsWhole = beside.pageCount <= under.pageCount
  const isBeside =
    beside.pageCount < under.pageCount || (beside.shape > 1.2 * under.shape && (isAsWhole || under.cramped))
  return { ...(isBeside ? beside : under).layOut(), isBeside }
}

/** On paper there is no page to turn: all sides as high as they need to be, or as many sheets as keep them readable. */
function onPaper(sketch: Draughtsman): Placed {
  const whole = sketch({ width: PAPER.width }).layOut()
  return { ...(whole.height > PAPER.height ? sketch(PAPER).layOut() : whole), isBeside: false }
}
