/** Weight and colour of every pen: the style the drawings need, on top of the tokens. */
import { type CSSResult, css } from 'lit'

export const drawingCss: CSSResult = css`
  .drawing {
    display: block;
    overflow: visible;
    direction: ltr;
    fill: none;
    stroke: none;
    stroke-linejoin: round;
    stroke-linecap: butt;
    font-family: var(--ink-font);
  }
  .drawing.large {
    --ink-weight: 1.35;
  }
  .drawing path,
  .drawing rect {
    vector-effect: non-scaling-stroke;
  }
  .cut {
    stroke: var(--ink-line);
    stroke-width: calc(2.6px * var(--ink-weight, 1));
  }
  .edge {
    stroke: var(--ink-line);
    stroke-width: calc(1.5px * var(--ink-weight, 1));
  }
  .fine {
    stroke: var(--ink-line);
    stroke-width: calc(1px * var(--ink-weight, 1));
  }
  .swing {
    stroke: var(--ink-line);
    stroke-width: calc(0.9px * var(--ink-weight, 1));
    stroke-dasharray: 4 2;
  }
  .course {
    stroke: var(--ink-ghost);
    stroke-width: 1;
  }
  .face {
    fill: var(--ink-face);
  }
  .slope,
  .glass {
    fill: var(--ink-paper);
  }
  .solid {
    fill: var(--ink-line);
  }
  .open-void {
    fill: var(--ink-open);
  }
  .open-leaf {
    stroke: var(--ink-open);
    stroke-width: calc(2px * var(--ink-weight, 1));
  }
  .opened-void {
    stroke: var(--ink-opened);
    stroke-width: calc(1.4px * var(--ink-weight, 1));
  }
  .opened-leaf {
    stroke: var(--ink-opened);
    stroke-width: calc(1.8px * var(--ink-weight, 1));
    stroke-dasharray: 4 2.5;
  }
  .taken {
    stroke: var(--ink-faint);
    stroke-width: calc(1.2px * var(--ink-weight, 1));
  }
  .unheard {
    stroke: var(--ink-note);
    stroke-width: calc(1.6px * var(--ink-weight, 1));
    stroke-dasharray: 1.6 3;
  }
  .unheard-dot {
    fill: var(--ink-note);
  }
  .doubt-dots,
  .doubt-dash,
  .doubt-line {
    stroke: var(--ink-doubt);
    stroke-width: calc(1.6px * var(--ink-weight, 1));
  }
  .doubt-dots {
    stroke-width: 2.2;
    stroke-linecap: round;
    stroke-dasharray: 0.1 4;
  }
  .doubt-dash {
    stroke-dasharray: 7 4;
  }
  .doubt-line {
    stroke-width: 1.4;
  }
  .tag-open {
    fill: var(--ink-open);
    stroke: var(--ink-open);
    stroke-width: 1.3;
  }
  .tag-opened,
  .tag-closed,
  .tag-taken-closed,
  .tag-no-word,
  .tag-doubt {
    fill: var(--ink-paper);
    stroke: var(--ink-line);
    stroke-width: 1.1;
  }
  .tag-opened {
    stroke: var(--ink-opened);
    stroke-width: 1.4;
    stroke-dasharray: 4 2;
  }
  .tag-taken-closed,
  .tag-no-word {
    stroke: var(--ink-faint);
  }
  .tag-no-word {
    stroke: var(--ink-note);
    stroke-dasharray: 1.6 2;
  }
  .tag-doubt {
    stroke: var(--ink-doubt);
    stroke-width: 1.4;
    stroke-dasharray: 1.6 2;
  }
  .tick,
  .tick-sent {
    stroke: var(--ink-line);
    stroke-width: 3.6;
  }
  .tick-sent {
    stroke-dasharray: 2.5 2.5;
  }
  .sent {
    stroke: var(--ink-line);
    stroke-width: 2.1;
  }
  .sure {
    stroke: var(--ink-line);
    stroke-width: 1;
  }
  .expected {
    stroke: var(--ink-faint);
    stroke-width: 1;
  }
  .beyond {
    stroke: var(--ink-faint);
    stroke-width: 0.8;
  }
  .axis {
    stroke: var(--ink-line);
    stroke-width: 1;
  }
  .grid {
    stroke: var(--ink-ghost);
    stroke-width: 1;
  }
  .curve {
    stroke: var(--ink-line);
    stroke-width: 2;
  }
  .now {
    stroke: var(--ink-opened);
    stroke-width: 1.5;
  }
  .drawing text {
    fill: var(--ink-line);
    font-size: 12px;
  }
  .drawing .caption,
  .drawing .level,
  .drawing .small,
  .drawing .tag-text-faint {
    fill: var(--ink-note);
  }
  .drawing .caption {
    fill: var(--ink-line);
    font-size: 13px;
    letter-spacing: 0.06em;
  }
  .drawing .step-next {
    fill: var(--ink-paper);
    font-weight: 600;
  }
  .drawing .level {
    font-size: 11px;
  }
  .drawing .tag-text-open {
    fill: var(--ink-on-open);
    font-weight: 600;
  }
  .drawing .tag-text-opened {
    fill: var(--ink-opened);
  }
  .drawing .tag-text-doubt {
    fill: var(--ink-doubt);
  }
  .opening {
    outline: none;
    cursor: pointer;
  }
  .hit {
    fill: transparent;
    pointer-events: all;
  }
  .opening:hover .hit {
    stroke: var(--ink-faint);
    stroke-width: 1;
  }
  .opening.picked .hit {
    stroke: var(--ink-line);
    stroke-width: 1.5;
  }
  .opening:focus-visible .hit {
    stroke: var(--ink-line);
    stroke-width: 2.5;
  }
  @media print {
    .hit {
      stroke: none;
    }
  }
`
