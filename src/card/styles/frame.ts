import { css } from 'lit'

/** The sheet itself: border, headline, bands, places of drawing and list at every size. */
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
`
