import { css } from 'lit'

/** The lists that are walked and ticked, under the house on which their numbers stand. */
export const walksCss = css`
  .ticks {
    max-inline-size: 52rem;
  }
  .tick {
    display: grid;
    grid-template-columns: 48px minmax(0, 1fr) auto;
    gap: 2px 14px;
    align-items: center;
    min-block-size: 60px;
    padding-block: 4px;
    border-block-end: 1px solid var(--ink-ghost);
  }
  .tick-box {
    display: grid;
    place-items: center;
    inline-size: 76px;
    block-size: 54px;
    padding: 2px;
    border: 2px solid var(--ink-line);
    background: var(--ink-paper);
    font-size: 12px;
    line-height: 1.1;
    text-align: center;
  }
  button.tick-box {
    cursor: pointer;
  }
  .tick-box b {
    font-size: 26px;
    line-height: 1;
  }
  .tick-box:not(button) {
    border: 1.5px dotted var(--ink-faint);
    color: var(--ink-note);
  }
  .walk-acts {
    grid-template-columns: repeat(3, minmax(0, 1fr));
  }
  .walk-acts > .act {
    min-block-size: 52px;
    padding-inline: 4px;
    font-size: 15px;
  }
  @container sash (inline-size >= 600px) {
    .walk-acts > .act {
      padding-inline: 14px;
      font-size: 17px;
    }
  }
  .tick-floor {
    block-size: 54px;
    margin: 8px 0 0;
    align-content: center;
    overflow: hidden;
  }
  .tick-floor .act {
    block-size: 100%;
  }
  .came {
    margin-block: 18px 8px;
  }
  /* Whatever is said in them, the lines of a last look keep their height: what stands under a finger stays there. */
  .last-look .tick {
    grid-template-rows: minmax(0, 1fr);
    block-size: 96px;
  }
  .last-look .tick :is(.name, .say, .aside) {
    display: -webkit-box;
    -webkit-box-orient: vertical;
    -webkit-line-clamp: 1;
    overflow: hidden;
  }
  .last-look .tick .say {
    -webkit-line-clamp: 2;
  }
  .last-look > .say,
  .last-look .uncertain summary {
    block-size: 48px;
  }
  .tick.next {
    border-inline-start: 4px solid var(--ink-line);
    padding-inline-start: 10px;
  }
  @container sash (inline-size < 480px) {
    .tick {
      column-gap: 10px;
    }
    .tick .more {
      grid-column: 2;
      justify-self: start;
    }
  }
  @container sash (inline-size < 600px) {
    .at-last-look .plan,
    .with-panel .way {
      display: none;
    }
    .before .great-act {
      margin-block: 6px;
    }
  }
  @container sash (inline-size >= 600px) {
    .walks .panel {
      padding: 0;
    }
    .walks .panel-head {
      flex-wrap: nowrap;
      padding-block-end: 2px;
    }
    .walks .panel-head h2 {
      font-size: 21px;
    }
    .walks .ticks {
      max-inline-size: none;
    }
    .last-look .tick {
      block-size: 66px;
    }
    /* Floor by floor they read on from column to column: each names its floor. */
    .walks .floors {
      display: grid;
      grid-template-columns: repeat(auto-fill, minmax(290px, 1fr));
      gap: 0 22px;
    }
    .walks .floors ul {
      display: contents;
    }
    .walks .floors h3 {
      position: absolute;
      clip-path: inset(50%);
    }
    .walks .aside {
      display: none;
    }
    .walks .tick .aside {
      display: block;
    }
    .walks .tick :is(.name, .say),
    .last-look .tick .aside {
      overflow: hidden;
      white-space: nowrap;
      text-overflow: ellipsis;
    }
    .at-round .round {
      display: flex;
      flex-direction: column;
      overflow: hidden;
    }
    /* What the last walk found stands beside the next one. */
    .before {
      display: flex;
      flex-wrap: wrap;
      gap: 0 22px;
      overflow: hidden auto;
    }
    .before > * {
      flex: 1 1 290px;
    }
    .walking {
      display: grid;
      grid-template: minmax(0, 1fr) / minmax(0, 1fr) minmax(0, 2fr);
      gap: 22px;
      flex: 1 1 0;
      min-block-size: 0;
    }
    .walking > * {
      min-block-size: 0;
      overflow: hidden auto;
    }
    .before > .ticks {
      flex-basis: 100%;
    }
    .walks .ticks {
      display: grid;
      grid-template-columns: repeat(auto-fill, minmax(290px, 1fr));
      column-gap: 22px;
      align-content: start;
    }
    .at-signs .body {
      grid-template: minmax(0, 1fr) / minmax(0, 1fr) !important;
    }
  }
  /* A small tablet: the list is what is walked by. */
  @container sash (inline-size >= 900px) and (inline-size < 1200px) {
    .walking-now .panel-head,
    .last-look h2 {
      position: absolute;
      clip-path: inset(50%);
    }
    .walking .tick {
      min-block-size: 44px;
      padding-block: 0;
    }
    /* How far one is stands first among the lines. */
    .last-look {
      display: grid;
      grid-template-columns: repeat(auto-fill, minmax(290px, 1fr));
      column-gap: 22px;
      align-content: start;
    }
    .last-look > :is(.panel-head, .floors) {
      display: contents;
    }
    .last-look > :not(.panel-head, .floors) {
      grid-column: 1 / -1;
    }
    .last-look .tick {
      block-size: 46px;
      padding-block: 0;
    }
    .last-look :is(.box, .tick-box) {
      block-size: 44px;
    }
    .last-look .tick .aside {
      display: none;
    }
  }
  .next-card {
    padding-block-start: 4px;
    display: grid;
    grid-template-columns: auto minmax(0, 1fr);
    align-items: center;
    gap: 0 16px;
    max-inline-size: 40rem;
  }
  .next-card .number {
    grid-row: 1 / 4;
    font-size: 58px;
    line-height: 1;
  }
  .next-card .tag {
    justify-self: start;
  }
  .next-card .name {
    font-size: 22px;
  }
  .next-card .name small {
    display: block;
  }
`
