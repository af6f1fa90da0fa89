import { css } from 'lit'

/** Headline, counts, time, and the one line for what tablet and keeper have to say. */
export const headCss = css`
  .head {
    display: flex;
    flex-direction: column;
    gap: 2px;
    min-block-size: 92px;
  }
  .headline {
    font-size: 40px;
    line-height: 1.05;
    letter-spacing: -0.01em;
  }
  .headline b,
  .counts b {
    font-variant-numeric: tabular-nums;
  }
  .stamp {
    align-self: start;
    padding: 0 14px;
    border: 3px double var(--ink-line);
    outline: 1px solid var(--ink-line);
    outline-offset: 2px;
    transform: rotate(-0.7deg);
  }
  @media (prefers-reduced-motion: reduce), (forced-colors: active), print {
    .stamp {
      transform: none;
    }
  }
  .calm {
    min-inline-size: 0;
    color: var(--ink-note);
  }
  /* No higher than the counts, which stand here otherwise; the strip has it in full. */
  .calm {
    display: -webkit-box;
    -webkit-box-orient: vertical;
    -webkit-line-clamp: 2;
    overflow: hidden;
    font-size: 13px;
    line-height: 1.25;
  }
  .calm b {
    color: var(--ink-line);
    font-weight: 400;
  }
  .calm b::after {
    content: '. ';
  }
  .counts {
    display: flex;
    gap: 14px;
    min-inline-size: 0;
    font-size: 17px;
  }
  .counts li {
    display: flex;
    align-items: center;
    gap: 6px;
    min-inline-size: 3.2em;
    /* By less than a browser measures: else its words would wrap for the shrinking of the others. */
    flex: 0 0.001 auto;
    white-space: nowrap;
  }
  /* Words give way from the right; a sign and its number never do. */
  .counts span {
    display: flex;
    flex-wrap: wrap;
    min-inline-size: 2ch;
    block-size: 1.3em;
    overflow: hidden;
  }
  .head i {
    font-style: normal;
    white-space: pre;
  }
  .headline i {
    white-space: normal;
  }
  .counts li:nth-child(2) {
    flex-shrink: 1000;
  }
  .counts li:nth-child(3) {
    flex-shrink: 1000000;
  }
  .sign {
    flex: none;
    block-size: 28px;
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
    display: none;
    margin-inline-start: auto;
    flex: none;
    color: var(--ink-note);
    text-align: end;
  }
  .clock {
    display: block;
    color: var(--ink-line);
    line-height: 1.1;
    font-variant-numeric: tabular-nums;
  }
  .stale .headline::after {
    content: ' ?';
    color: var(--ink-note);
  }
  .strip {
    position: relative;
    z-index: 3;
    block-size: 27px;
    border-block: 1px solid var(--ink-ghost);
    font-size: 14px;
  }
  .stale .strip {
    border-block: 1px dashed var(--ink-opened);
  }
  .strip summary {
    display: flex;
    align-items: center;
    gap: 10px;
    block-size: 44px;
    margin-block: -9px;
    color: var(--ink-note);
    list-style: none;
    cursor: pointer;
  }
  .strip summary::-webkit-details-marker {
    display: none;
  }
  .strip .warns {
    color: var(--ink-opened);
  }
  .alert {
    display: grid;
    place-items: end center;
    flex: none;
    inline-size: 24px;
    block-size: 20px;
    padding-block-end: 1px;
    background: var(--ink-opened);
    clip-path: polygon(50% 0, 100% 100%, 0 100%);
    color: var(--ink-paper);
    font-size: 12px;
    line-height: 1;
  }
  .first {
    flex: 1 1 0;
    overflow: hidden;
    white-space: nowrap;
    text-overflow: ellipsis;
  }
  .of {
    flex: none;
    color: var(--ink-note);
  }
  .in-full {
    position: absolute;
    inset-inline: 0;
    inset-block-start: 26px;
    max-block-size: 60vh;
    padding: 10px 14px 14px;
    border: 1.5px solid var(--ink-line);
    background: var(--ink-paper);
    overflow: hidden auto;
    font-size: 15px;
  }
  .bands p {
    padding-block-start: 8px;
    color: var(--ink-opened);
  }
`
