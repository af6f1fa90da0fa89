import { css } from 'lit'

/** The sheet itself: border, headline, strip, and the places of house and list, which nothing that is said can move. */
export const frameCss = css`
  :host {
    display: block;
    container: sash / inline-size;
    block-size: 100%;
    min-inline-size: 0;
    letter-spacing: normal;
    word-spacing: normal;
    text-align: start;
    text-indent: 0;
    text-transform: none;
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
    font: 15px / 1.3 var(--ink-font);
    overflow: hidden auto;
    overscroll-behavior: contain;
    scroll-padding-block: 8px 150px;
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
    /* Under the frame it would make the sheet a pixel too high, and a scrollbar. */
    inset-block-start: 0;
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
    position: relative;
    display: flex;
    flex-direction: column;
    gap: 6px;
    min-block-size: 100%;
    padding: 12px;
    border: 2px solid var(--ink-line);
    outline: 1px solid var(--ink-line);
    outline-offset: -7px;
  }
  .frame.stale {
    border-style: dashed;
    outline-style: dashed;
  }
  .stale .plan {
    --ink-face: var(--ink-paper);
  }

  .skip {
    position: absolute;
    inset-block-start: 4px;
    inset-inline-start: 4px;
    z-index: 4;
    min-block-size: 44px;
    padding-inline: 14px;
    border: 2px solid var(--ink-line);
    background: var(--ink-paper);
  }
  .skip:not(:focus) {
    opacity: 0;
    pointer-events: none;
  }

  .body {
    display: flex;
    flex-direction: column;
    gap: 8px;
    min-inline-size: 0;
  }
  .plan,
  .list,
  .schedule,
  .panel {
    min-inline-size: 0;
  }
  .plan-drawing > svg {
    display: block;
    margin-inline: auto;
    max-inline-size: 100%;
  }
  .pages {
    display: flex;
    gap: 4px;
    margin-block-end: 6px;
    overflow: auto hidden;
    scrollbar-width: none;
  }
  .pages .page-turn {
    position: relative;
    flex: 1 0 auto;
    padding-inline: 6px;
    white-space: nowrap;
  }
  .page-turn b {
    color: var(--tone);
  }
  .pages .page-turn:focus-visible {
    outline-offset: -3px;
  }
  .plan-only .list {
    display: none;
  }
  .title-block {
    display: flex;
    flex-wrap: wrap;
    gap: 0 14px;
    padding-block-start: 4px;
    border-block-start: 1px solid var(--ink-line);
    color: var(--ink-note);
    font-size: 13px;
  }
  .house-name {
    color: var(--ink-line);
    overflow-wrap: anywhere;
  }
`
