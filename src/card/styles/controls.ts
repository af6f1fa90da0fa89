import { css } from 'lit'

/** What can be pressed: boxes that say something, ways that lead to another sheet. */
export const controlsCss = css`
  .acts {
    display: grid;
    grid-template-columns: repeat(4, minmax(0, 1fr));
    gap: 6px;
    flex: none;
  }
  .act {
    min-block-size: 44px;
    min-inline-size: 44px;
    padding: 6px 14px;
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
    padding: 8px 22px;
    border: 2px solid var(--ink-line);
    background: var(--ink-line);
    color: var(--ink-paper);
    font-size: 19px;
    cursor: pointer;
  }
  :focus-visible {
    outline: 3px solid var(--ink-doubt);
    outline-offset: 2px;
  }
  :is(h1, h2, .deed):focus-visible {
    outline: none;
  }

  /* Whatever is said in it or answered, a box keeps its place and its size. */
  .box {
    display: grid;
    grid-template: minmax(0, 1fr) / minmax(0, 1fr) auto;
    block-size: 72px;
    min-inline-size: 0;
    overflow: hidden;
    border: 1.5px solid var(--ink-line);
  }
  .acts .box {
    grid-column: 1 / -1;
  }
  /* On a phone within reach of the thumb, however far the sheet is scrolled. */
  @container sash (inline-size >= 310px) and (inline-size < 600px) {
    .acts {
      z-index: 2;
      padding-block: 6px;
      background: var(--ink-paper);
    }
    .acts .box {
      block-size: 62px;
    }
    @media (min-height: 600px) {
      .acts {
        position: sticky;
        inset-block-end: 0;
      }
    }
  }
  .box > * {
    grid-area: 1 / 1;
    min-inline-size: 0;
    margin: 0;
  }
  .box > :is(.great-act, .act, .nothing-to-say) {
    padding: 4px 16px;
    border: 0;
    line-height: 1.2;
    text-align: start;
    align-content: center;
    cursor: pointer;
  }
  .box > .leads {
    font-size: 19px;
    display: flex;
    align-items: center;
    gap: 10px;
  }
  .box > .nothing-to-say {
    color: var(--ink-note);
    cursor: default;
  }
  .box.idle {
    border: 1px solid var(--ink-ghost);
  }
  .box small {
    display: -webkit-box;
    -webkit-box-orient: vertical;
    -webkit-line-clamp: 2;
    overflow: hidden;
    font-size: 13px;
  }
  .box.answers > :not(.deed, .undo) {
    padding-block-end: 24px;
    overflow: hidden;
    white-space: nowrap;
    text-overflow: ellipsis;
  }
  .deed {
    align-self: end;
    padding: 0 16px 6px;
    font-size: 13px;
    white-space: nowrap;
    overflow: hidden;
    text-overflow: ellipsis;
    pointer-events: none;
  }
  .great-act + .deed {
    color: var(--ink-paper);
  }
  .deed.alone {
    align-self: center;
    padding-block: 0;
    font-size: 16px;
    white-space: normal;
  }
  .elsewhere {
    display: flex;
    align-items: center;
    gap: 12px;
    padding-block-start: 6px;
  }
  .elsewhere .deed {
    align-self: center;
    padding: 0;
    font-size: 15px;
    white-space: normal;
  }
  .deed.noted.alone::before {
    content: '\\2713';
    padding-inline-end: 8px;
    font-size: 22px;
  }
  .nothing-to-say + .deed.failed {
    color: var(--ink-open);
  }
  .box > .undo {
    grid-area: 1 / 2;
    text-decoration: underline;
    background: var(--ink-paper);
  }
  .box.waits,
  .box.off {
    border-style: dashed;
  }
  .box.off > .great-act {
    background: none;
    color: var(--ink-note);
  }
  .way {
    display: grid;
    justify-items: center;
    align-content: start;
    gap: 2px;
    min-block-size: 44px;
    padding: 2px;
    border: 0;
    background: none;
    font-size: 13px;
    line-height: 1.15;
    cursor: pointer;
  }
  .way[aria-pressed='true'] span {
    text-decoration: underline;
    text-decoration-thickness: 2px;
    text-underline-offset: 4px;
  }
  .mark {
    flex: none;
    inline-size: 40px;
    block-size: 32px;
  }
  .drawing.mark text {
    font-size: 15px;
  }

  @media (forced-colors: active) {
    .box {
      border: 3px solid ButtonText;
    }
    .box > .great-act {
      background: ButtonFace;
      color: ButtonText;
    }
    .great-act + .deed {
      color: ButtonText;
    }
  }
`
