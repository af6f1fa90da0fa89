import { css } from 'lit'

/** Rows of the list, and the lists of the panels that look like it. */
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
    gap: 12px;
    block-size: 30px;
    flex: none;
  }
  .schedule h2,
  .jobs h2,
  .order select {
    color: var(--ink-note);
    font-size: 12px;
    letter-spacing: 0.1em;
    text-transform: uppercase;
  }
  .schedule h2 {
    white-space: nowrap;
  }
  .jobs h2 {
    block-size: 26px;
    padding-block: 6px 2px;
  }
  .jobs .aside {
    line-height: 1.1;
  }
  /* The list says in its order what it is. */
  @container sash (inline-size < 480px) {
    .schedule h2 {
      position: absolute;
      clip-path: inset(50%);
    }
  }
  /* As high as a finger; the part that is more than a line stands over the drawing's foot. */
  .order select,
  .search {
    min-block-size: 44px;
    margin-block: -9px;
    border: 0;
    background: none;
    cursor: pointer;
  }
  .order {
    min-inline-size: 0;
  }
  .order select {
    max-inline-size: 100%;
  }
  .order option {
    background: var(--ink-paper);
  }
  .search {
    flex: none;
    inline-size: 100%;
    margin-block-end: 0;
    border-block-end: 1px solid var(--ink-faint);
    border-radius: 0;
  }
  .rows {
    display: grid;
    grid-template-columns: repeat(auto-fill, minmax(min(100%, 290px), 1fr));
    column-gap: 22px;
    align-content: start;
  }
  .row {
    /* A list item that moves has all that follow it numbered anew. */
    display: block;
    min-inline-size: 0;
    border-block-end: 1px solid var(--ink-ghost);
    content-visibility: auto;
    contain-intrinsic-block-size: auto 45px;
  }
  .row-open,
  .job .more {
    display: grid;
    grid-template-columns: 48px minmax(0, 1fr);
    gap: 10px;
    align-items: center;
    inline-size: 100%;
    min-block-size: 44px;
    padding: 1px 0;
    border: 0;
    background: none;
    text-align: start;
    line-height: 1.2;
    cursor: pointer;
  }
  .row-open:hover,
  .row-open[aria-expanded='true'] {
    background: var(--ink-face);
  }
  .row-open:focus-visible,
  .job .more:focus-visible,
  .search:focus-visible {
    outline-offset: -3px;
  }
  .what {
    display: grid;
    grid-template-columns: minmax(0, 1fr);
    min-inline-size: 0;
  }
  .name {
    font-size: 17px;
  }
  .name small {
    color: var(--ink-note);
    font-size: 12px;
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
  .unseen .say i {
    color: inherit;
  }
  .odd,
  .left-now {
    color: var(--ink-note);
    font-size: 13px;
    overflow-wrap: anywhere;
  }
  .row .name {
    display: flex;
    gap: 10px;
  }
  .row bdi {
    flex: 1 1 0;
  }
  .left {
    flex: 0 1 auto;
    max-inline-size: 60%;
    overflow: hidden;
    text-overflow: ellipsis;
    white-space: nowrap;
    color: var(--ink-note);
    font-size: 13px;
    line-height: 1.5;
    font-variant-numeric: tabular-nums;
  }
  .gates {
    block-size: 18px;
    overflow: hidden;
  }
  .gates svg {
    display: block;
    max-inline-size: 100%;
  }
  .job {
    border-block-end: 1px solid var(--ink-ghost);
  }
  @container sash (inline-size >= 600px) {
    .row :is(bdi, .say, .odd),
    .job :is(.name, .left-now) {
      overflow: hidden;
      white-space: nowrap;
      text-overflow: ellipsis;
    }
  }
  @container sash (inline-size >= 1500px) {
    .rows {
      grid-template-columns: repeat(auto-fill, minmax(min(100%, 420px), 1fr));
    }
    .row-open,
    .job .more {
      grid-template-columns: 58px minmax(0, 1fr);
    }
    .name {
      font-size: 22px;
    }
    .say,
    .odd {
      font-size: 18px;
    }
    .left,
    .left-now,
    .name small,
    .tag,
    .schedule h2,
    .jobs h2,
    .order select {
      font-size: 16px;
    }
  }
`
