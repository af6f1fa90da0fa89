import { css } from 'lit'

/** The panels that take the place of the drawing, and the question for an account. */
export const panelCss = css`
  .panel {
    padding: 4px 8px 12px;
  }
  .panel-head {
    display: flex;
    align-items: center;
    flex-wrap: wrap;
    gap: 8px 14px;
    padding-block-end: 6px;
    border-block-end: 1px solid var(--ink-faint);
  }
  .panel-head .box {
    flex: 0 1 26rem;
    block-size: 46px;
  }
  .panel-head h2 {
    flex: 1 1 10rem;
    font-size: 25px;
    line-height: 1.15;
    overflow-wrap: anywhere;
  }
  .panel h3 {
    margin-block: 12px 4px;
    color: var(--ink-note);
    font-size: 12px;
    letter-spacing: 0.1em;
    text-transform: uppercase;
  }
  .figures h3 {
    margin-block: 6px 2px;
  }
  :is(.panel, .before > div) > .say {
    margin-block: 4px;
    font-size: 19px;
  }
  .grounds li {
    max-inline-size: 44rem;
    padding-block: 2px;
  }
  .story-acts {
    display: grid;
    grid-template-columns: repeat(auto-fit, minmax(min(100%, 280px), 1fr));
    gap: 10px;
    margin-block: 10px;
  }
  .figures svg {
    display: block;
    inline-size: 100%;
    max-inline-size: 620px;
    block-size: auto;
  }
  .figures .gates,
  .figures .gates svg {
    inline-size: auto;
    max-inline-size: 100%;
    block-size: 24px;
  }
  .choices {
    display: flex;
    flex-wrap: wrap;
    gap: 8px;
    margin-block: 10px;
  }
  .choice {
    display: flex;
    align-items: center;
    gap: 10px;
    min-block-size: 44px;
  }
  .choice input {
    inline-size: 24px;
    block-size: 24px;
  }
  .uncertain {
    margin-block-start: 18px;
  }
  .uncertain summary {
    min-block-size: 44px;
    align-content: center;
    color: var(--ink-doubt);
    cursor: pointer;
  }
  @container sash (inline-size >= 900px) {
    .story {
      display: grid;
      grid-template-columns: minmax(0, 1fr) minmax(0, 1.15fr);
      column-gap: 24px;
      align-content: start;
    }
    .story > * {
      grid-column: 1 / -1;
    }
    .story .grounds {
      grid-column: 1;
    }
    .story .figures {
      grid-column: 2;
    }
  }
  .key {
    columns: 2 300px;
    column-gap: 24px;
    padding-block: 8px;
  }
  .key li {
    display: flex;
    flex-wrap: wrap;
    align-items: center;
    gap: 2px 12px;
    min-block-size: 48px;
    break-inside: avoid;
  }
  .key li > :last-child {
    flex: 1 1 9rem;
    padding-block: 3px;
  }
  .kinds {
    display: flex;
    align-items: end;
  }
  .key-figure {
    inline-size: 40px;
    min-inline-size: 0;
    block-size: 46px;
  }
  .about {
    display: grid;
    grid-template-columns: repeat(auto-fit, minmax(170px, 1fr));
    border: 1px solid var(--ink-line);
  }
  .about > div {
    padding: 0 8px 8px;
    min-inline-size: 0;
    overflow-wrap: anywhere;
  }
  .account {
    display: flex;
    flex-wrap: wrap;
    align-items: end;
    gap: 8px 14px;
    padding-block: 8px;
  }
  .account h2,
  .account p {
    inline-size: 100%;
  }
  .account h2 {
    font-size: 19px;
  }
  .account label {
    display: grid;
    gap: 2px;
  }
  .account input {
    min-block-size: 44px;
    padding-inline: 8px;
    border: 1px solid var(--ink-line);
    background: var(--ink-paper);
  }
`
