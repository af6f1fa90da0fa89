/**
 * The colours of the sheet as a Lit style. A page overrides any of them with a custom property on the element, e.g.
 * `sash-tally { --sash-open: #a22 }`.
 */
import { type CSSResult, css, unsafeCSS } from 'lit'
import { type Colours, FONTS, SHEETS } from './colours.ts'

/** System colours stand in where the reader has asked for their own. */
const FORCED: Colours = {
  paper: 'Canvas',
  face: 'Canvas',
  line: 'CanvasText',
  note: 'CanvasText',
  faint: 'CanvasText',
  ghost: 'GrayText',
  open: 'CanvasText',
  opened: 'CanvasText',
  doubt: 'LinkText',
  onOpen: 'Canvas',
}

const kebab = (name: string) => name.replace(/[A-Z]/g, letter => `-${letter.toLowerCase()}`)

/** Custom properties `--ink-*` for use inside the card; `--sash-*` from outside come first, save where colours are forced. */
const properties = (colours: Colours, scheme?: 'light' | 'dark'): CSSResult =>
  unsafeCSS(
    Object.entries(colours)
      .map(([name, value]) =>
        scheme ? `--ink-${kebab(name)}: var(--sash-${kebab(name)}, ${value});` : `--ink-${kebab(name)}: ${value};`,
      )
      .join('\n') + (scheme ? `\ncolor-scheme: ${scheme};` : ''),
  )

/**
 * Put class `sheet` on the root inside the shadow tree, with `auto`, `paper` or `blueprint`, and `night` when dimmed.
 * Print is always paper by day.
 */
export const tokensCss: CSSResult = css`
  .sheet {
    ${properties(SHEETS.paper.day, 'light')}
    --ink-font: var(--sash-font, ${unsafeCSS(FONTS)});
  }
  .sheet.night {
    ${properties(SHEETS.paper.night, 'dark')}
  }
  .sheet.blueprint {
    ${properties(SHEETS.blueprint.day, 'dark')}
  }
  .sheet.blueprint.night {
    ${properties(SHEETS.blueprint.night, 'dark')}
  }
  @media (prefers-color-scheme: dark) {
    .sheet.auto {
      ${properties(SHEETS.blueprint.day, 'dark')}
    }
    .sheet.auto.night {
      ${properties(SHEETS.blueprint.night, 'dark')}
    }
  }
  @media print {
    .sheet.sheet.sheet {
      ${properties(SHEETS.paper.day, 'light')}
    }
  }
  @media (forced-colors: active) {
    .sheet.sheet.sheet {
      ${properties(FORCED)}
    }
  }
`
