/**
 * Colours and sizes of the sheet: paper and blueprint, each by day and dimmed for the night. Data alone, so that contrast
 * can be computed from them (WCAG 2.2, 1.4.3 and 1.4.11), and for pages without the card.
 */

export interface Colours {
  readonly paper: string
  /** Walls in elevation; everything drawn on the paper may stand on a wall too. */
  readonly face: string
  readonly line: string
  /** Quieter text. */
  readonly note: string
  /** Quieter lines that still mean something. */
  readonly faint: string
  /** Ornament without meaning: slates, floor levels, rules. The only colour below 3:1. */
  readonly ghost: string
  readonly open: string
  readonly opened: string
  readonly doubt: string
  /** Text on a fill of `open`. */
  readonly onOpen: string
}

export const SHEETS = {
  paper: {
    day: {
      paper: '#f7f4ec',
      face: '#efe9dc',
      line: '#2b3440',
      note: '#555e67',
      faint: '#747e87',
      ghost: '#d3cfc2',
      open: '#b3341a',
      opened: '#7d4f00',
      doubt: '#5b3f8c',
      onOpen: '#fffdf7',
    },
    night: {
      paper: '#241f18',
      face: '#2e2820',
      line: '#d6cab4',
      note: '#b3a78f',
      faint: '#8f846f',
      ghost: '#4a4235',
      open: '#ec8363',
      opened: '#dba94e',
      doubt: '#b9a0d8',
      onOpen: '#1d1812',
    },
  },
  blueprint: {
    day: {
      paper: '#12294a',
      face: '#17335b',
      line: '#e8eef7',
      note: '#a9bddb',
      faint: '#8aa2c4',
      ghost: '#33507d',
      open: '#ff9b7d',
      opened: '#ffcf6b',
      doubt: '#d3baff',
      onOpen: '#12294a',
    },
    night: {
      paper: '#0a1424',
      face: '#0e1c33',
      line: '#aebdd2',
      note: '#8d9fb9',
      faint: '#71849f',
      ghost: '#24354f',
      open: '#d97f66',
      opened: '#c9a04e',
      doubt: '#a894cf',
      onOpen: '#0a1424',
    },
  },
} as const satisfies Record<string, { day: Colours; night: Colours }>
export type SheetName = keyof typeof SHEETS

/** Pixels. Headline for 3 m, rows for 1 m, fingers. */
export const SIZES = {
  headline: 44,
  head: 26,
  row: 17,
  text: 15,
  small: 12,
  target: 44,
  /** Width of a plain window: 5 minutes of arc at 3 m on a 10-inch tablet of 1280 by 800. */
  shape: 26,
} as const

export const FONTS =
  '"DIN Alternate", "Bahnschrift", "Avenir Next", "DejaVu Sans Condensed", "Liberation Sans Narrow", system-ui, sans-serif'
