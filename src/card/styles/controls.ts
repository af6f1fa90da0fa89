import { css } from 'lit'

/** What can be pressed, what was said, and the title block. */
export const controlsCss = css`
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
