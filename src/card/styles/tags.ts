import { css } from 'lit'

/** The mark of an opening in a list: six corners for windows, round ends for doors, square for hatches. */
export const tagsCss = css`
  .tag {
    display: grid;
    place-items: center;
    min-inline-size: 44px;
    block-size: 26px;
    padding-inline: 4px;
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
  .lid {
    border-radius: 0 !important;
  }
  /* Six corners: a border has none, so one hexagon lies upon another. */
  .pane {
    position: relative;
    z-index: 0;
    border: 0 !important;
    background: none !important;
  }
  .pane::before,
  .pane::after {
    content: '';
    position: absolute;
    inset: 0;
    z-index: -1;
    clip-path: polygon(9px 0, calc(100% - 9px) 0, 100% 50%, calc(100% - 9px) 100%, 9px 100%, 0 50%);
    background: var(--tone, currentColor);
  }
  .pane::after {
    inset: 1.4px;
    background: var(--ink-paper);
  }
  .open .pane::after {
    display: none;
  }
  .unseen .pane {
    --gaps: repeating-linear-gradient(90deg, var(--tone) 0 5px, transparent 5px 8px);
  }
  .doubt .pane {
    --gaps: repeating-linear-gradient(90deg, var(--tone) 0 2px, transparent 2px 4.5px);
  }
  :is(.unseen, .doubt) .pane::before {
    background:
      linear-gradient(
        90deg,
        var(--tone) 9px,
        transparent 9px calc(100% - 9px),
        var(--tone) calc(100% - 9px)
      ),
      var(--gaps);
  }
  .doubt .pane::after {
    inset: 2px;
  }
  @media (forced-colors: active) {
    .pane::before {
      background: CanvasText !important;
    }
    .pane::after {
      background: Canvas;
    }
  }
  @container sash (inline-size >= 1500px) {
    .tag {
      min-inline-size: 56px;
      block-size: 32px;
      border-radius: 16px;
    }
  }
`
