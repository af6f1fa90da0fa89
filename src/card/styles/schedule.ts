import { css } from 'lit'

/** Rows of the list, tags, and the lists of the panels that look like it. */
export const scheduleCss = css`
  :where(h1, h2, h3, p, li, .say, .odd, button, summary, label, small, .deed span) {
    unicode-bidi: plaintext;
  }
  :where(h1, h2, h3, p, li, .say, .odd, summary) {
    text-align: -webkit-match-parent;
    text-align: match-parent;
  }
  .schedule-head {
    display: flex;
    align-items: center;
    gap: 8px;
  }
  .schedule h2,
  .order select {
    color: var(--ink-note);
    font-size: 12px;
    letter-spacing: 0.1em;
    text-transform: uppercase;
  }
  .order select {
    min-block-size: 44px;
    max-inline-size: 100%;
    border: 0;
    background: var(--ink-paper);
    cursor: pointer;
  }
  .search {
    min-block-size: 44px;
    border: 1px solid var(--ink-faint);
    border-radius: 0;
    background: var(--ink-paper);
    padding-inline: 8px;
  }
  .search {
    inline-size: 100%;
  }
  .row {
    /* A list item that moves has all that follow it numbered anew. */
    display: block;
    border-block-end: 1px solid var(--ink-ghost);
    content-visibility: auto;
    contain-intrinsic-block-size: auto 76px;
  }
  .row-open {
    display: grid;
    grid-template-columns: auto minmax(0, 1fr) auto;
    gap: 1px 12px;
    align-items: start;
    inline-size: 100%;
    min-block-size: 44px;
    padding: 7px 2px;
    border: 0;
    background: none;
    text-align: start;
    cursor: pointer;
  }
  .row-open:hover,
  .row-open[aria-expanded='true'] {
    background: var(--ink-face);
  }
  .row-open:focus-visible,
  .search:focus-visible {
    outline-offset: -3px;
  }
  .tag {
    display: grid;
    place-items: center;
    min-inline-size: 44px;
    block-size: 26px;
    padding-inline: 6px;
    border: 1.3px solid var(--tone, currentColor);
    border-radius: 13px;
    color: var(--tone);
    font-size: 13px;
    white-space: nowrap;
  }
  .open > * .tag,
  .open > .tag {
    background: var(--ink-open);
    color: var(--ink-on-open);
  }
  @media (forced-colors: active) {
    .open > * .tag,
    .open > .tag {
      forced-color-adjust: none;
    }
  }
  .unseen .tag {
    border-style: dashed;
  }
  .doubt .tag {
    border-style: dotted;
    border-width: 2px;
  }
  .what {
    display: grid;
    min-inline-size: 0;
  }
  .name {
    font-size: 17px;
    overflow-wrap: anywhere;
  }
  .name small {
    color: var(--ink-note);
    font-size: 12px;
    white-space: nowrap;
  }
  .say {
    color: var(--tone);
    font-size: 14px;
    overflow-wrap: anywhere;
  }
  .say i {
    color: var(--ink-note);
    font-style: normal;
  }
  .odd {
    color: var(--ink-note);
    font-size: 13px;
    overflow-wrap: anywhere;
  }
  .left {
    text-align: end;
    font-variant-numeric: tabular-nums;
  }
  .left b {
    display: block;
    font-size: 20px;
    font-weight: 400;
    line-height: 1.1;
  }
  .left small {
    display: block;
    max-inline-size: 19ch;
    margin-inline-start: auto;
    color: var(--ink-note);
    font-size: 12px;
    text-wrap: balance;
  }
  .gates {
    grid-column: 2 / 4;
    block-size: 18px;
    overflow: hidden;
  }
  .gates svg {
    display: block;
    max-inline-size: 100%;
  }
  .ticks {
    max-inline-size: 52rem;
  }
  .tick {
    display: grid;
    grid-template-columns: auto minmax(0, 1fr) auto;
    gap: 2px 14px;
    align-items: center;
    min-block-size: 60px;
    padding-block: 8px;
    border-block-end: 1px solid var(--ink-ghost);
  }
  .tick-floor {
    margin-block-start: 8px;
  }
  .tick.next {
    border-inline-start: 4px solid var(--ink-line);
    padding-inline-start: 10px;
  }
  .tick.done .tag::after,
  .leaving .tick.quiet .tag::after {
    content: '\\2713';
  }
  .tick .tag {
    display: flex;
    gap: 4px;
    justify-content: center;
  }
  @container sash (inline-size < 360px) {
    .schedule-head {
      display: none;
    }
  }
  @container sash (inline-size < 480px) {
    .row-open {
      gap: 2px 8px;
    }
    .tick {
      grid-template-columns: auto minmax(0, 1fr);
    }
    .tick .act {
      grid-column: 1 / 3;
    }
  }
  @container sash (inline-size >= 1500px) {
    .name {
      font-size: 23px;
    }
    .say,
    .odd {
      font-size: 19px;
    }
    .left b {
      font-size: 27px;
    }
    .left small,
    .name small,
    .tag {
      font-size: 16px;
    }
    .schedule h2,
    .order select {
      font-size: 15px;
    }
    .tag {
      min-inline-size: 56px;
      block-size: 32px;
      border-radius: 16px;
    }
    .gates {
      block-size: 24px;
    }
    .gates svg {
      block-size: 24px;
      inline-size: auto;
    }
  }
`
