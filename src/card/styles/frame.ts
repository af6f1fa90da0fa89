import { css } from 'lit'

/** The sheet itself: border, headline, places of drawing, list and title block at every size. */
export const frameCss = css`
  :host {
    display: block;
    container: sash / inline-size;
    block-size: 100%;
    min-inline-size: 0;
  }
  :host([hidden]) {
    display: none;
  }
  *,
  *::before,
  *::after {
    box-sizing: border-box;
  }
  .sheet {
    position: relative;
    block-size: 100%;
    min-block-size: 15rem;
    background: var(--ink-paper);
    color: var(--ink-line);
    font: 15px / 1.35 var(--ink-font);
    overflow: auto;
    overscroll-behavior: contain;
    overflow-wrap: break-word;
    -webkit-text-size-adjust: 100%;
  }
  h1,
  h2,
  h3,
  p,
  ul,
  ol {
    margin: 0;
    padding: 0;
    font: inherit;
    list-style: none;
  }
  button,
  input,
  select {
    font: inherit;
    color: inherit;
  }
  .unseen-by-eye {
    position: absolute;
    inline-size: 1px;
    block-size: 1px;
    overflow: hidden;
    clip-path: inset(50%);
    white-space: nowrap;
    contain: strict;
  }
  .aside {
    color: var(--ink-note);
    font-size: 13px;
  }
  .warn {
    color: var(--ink-opened);
  }
  .fallback {
    padding: 16px;
  }
  .no-house {
    padding-block: 12px;
    max-inline-size: 46rem;
  }
  .no-house li {
    padding-block: 3px;
  }

  .frame {
    display: flex;
    flex-direction: column;
    gap: 10px;
    min-block-size: 100%;
    padding: 14px;
    border: 2px solid var(--ink-line);
    outline: 1px solid var(--ink-line);
    outline-offset: -7px;
  }
  .head {
    display: flex;
    flex-wrap: wrap;
    align-items: baseline;
    gap: 2px 24px;
    padding-inline: 8px;
  }
  .headline {
    font-size: 44px;
    line-height: 1.05;
    letter-spacing: -0.01em;
  }
  .headline b,
  .counts b {
    font-variant-numeric: tabular-nums;
  }
  .counts {
    display: flex;
    flex-wrap: wrap;
    gap: 0 20px;
    font-size: 17px;
  }
  .open {
    --tone: var(--ink-open);
  }
  .unseen {
    --tone: var(--ink-opened);
  }
  .doubt {
    --tone: var(--ink-doubt);
  }
  .quiet,
  .shut {
    --tone: var(--ink-line);
  }
  .headline,
  .counts li {
    color: var(--tone);
  }
  .time {
    margin-inline-start: auto;
    color: var(--ink-note);
    text-align: end;
  }
  .clock {
    color: var(--ink-line);
    font-size: 20px;
    font-variant-numeric: tabular-nums;
  }
  .bands:empty {
    display: none;
  }
  .bands p {
    padding: 6px 12px;
    border: 1.5px dashed var(--ink-opened);
    color: var(--ink-opened);
    font-size: 15px;
  }
  .bands p + p {
    border-block-start: 0;
  }
  .stale .headline::after {
    content: ' ?';
    color: var(--ink-note);
  }
  .stale .plan-drawing > svg {
    opacity: 0.82;
  }
  .frame.stale {
    border-style: dashed;
    outline-style: dashed;
  }
  .plan-drawing > svg {
    display: block;
    margin-inline: auto;
    max-inline-size: 100%;
  }

  .body {
    display: flex;
    flex-direction: column;
    gap: 14px;
    flex: 1 1 auto;
    min-block-size: 0;
  }
  .plan {
    --bound: 0;
    order: 2;
    min-inline-size: 0;
  }
  .with-panel .plan {
    order: 0;
  }
  .plan-only .schedule {
    display: none;
  }

  .acts {
    display: flex;
    flex-wrap: wrap;
    align-items: center;
    gap: 8px;
  }
  .act,
  .great-act,
  .quiet-act {
    min-block-size: 44px;
    min-inline-size: 44px;
    padding: 8px 14px;
    border: 1.3px solid var(--ink-line);
    border-radius: 0;
    background: var(--ink-paper);
    cursor: pointer;
    text-align: center;
  }
  .act[aria-pressed='true'] {
    box-shadow: inset 0 -4px 0 var(--ink-line);
  }
  .great-act {
    min-block-size: 52px;
    padding-inline: 22px;
    border-width: 2px;
    background: var(--ink-line);
    color: var(--ink-paper);
    font-size: 19px;
  }
  .quiet-act {
    padding-inline: 0;
    border-color: transparent;
    text-align: start;
    text-decoration: underline;
  }
  :focus-visible {
    outline: 3px solid var(--ink-doubt);
    outline-offset: 2px;
  }
  h2:focus-visible {
    outline: none;
  }
  .deed {
    display: flex;
    align-items: center;
    gap: 12px;
    margin-inline-start: auto;
    padding-inline-start: 12px;
  }
  .deed.failed {
    color: var(--ink-open);
  }

  .printed {
    display: none;
  }
  .great-act small {
    display: block;
    font-size: 13px;
  }
  .great-act[aria-disabled='true'] {
    background: var(--ink-face);
    color: var(--ink-note);
    border: 1.3px dashed var(--ink-note);
  }
  .title-block {
    display: grid;
    grid-template-columns: 1fr;
    border: 1.3px solid var(--ink-line);
    font-size: 13px;
  }
  .title-block > div {
    min-inline-size: 0;
    padding: 6px 10px;
    border-block-end: 1px solid var(--ink-line);
  }
  .title-block > div:last-child {
    border: 0;
  }
  .title-block h2 {
    color: var(--ink-note);
    font-size: 12px;
    letter-spacing: 0.1em;
    text-transform: uppercase;
  }
  .link.stale {
    color: var(--ink-opened);
  }
  .key {
    display: flex;
    flex-wrap: wrap;
    gap: 2px 16px;
  }
  .key li {
    display: flex;
    align-items: center;
    gap: 6px;
  }
  .key-figure {
    inline-size: 26px;
    block-size: 34px;
    flex: none;
  }

  @media (forced-colors: active) {
    .great-act {
      border: 3px solid ButtonText;
      background: ButtonFace;
      color: ButtonText;
    }
  }
`
