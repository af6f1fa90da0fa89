import { css } from 'lit'

/** A4, for the inside of a cupboard door: the drawing on top, the whole schedule under it. */
export const printCss = css`
  @media print {
    :host,
    .sheet,
    .frame {
      block-size: auto !important;
      min-block-size: 0 !important;
      overflow: visible !important;
      container-type: normal;
    }
    .sheet {
      print-color-adjust: exact;
      -webkit-print-color-adjust: exact;
    }
    .frame {
      border: 0;
      outline: 0;
      padding: 0;
    }
    .acts,
    .order,
    .search,
    .account,
    .page-turn,
    .quiet-act,
    .name small,
    .link-cell {
      display: none !important;
    }
    .body {
      display: block !important;
    }
    .plan,
    .schedule {
      overflow: visible !important;
      border: 0 !important;
      padding: 0 !important;
    }
    .plan,
    .frame:not(.with-panel) .plan,
    .plan-drawing {
      block-size: auto;
    }
    .plan-drawing {
      padding-inline: 10px;
    }
    .plan-drawing > svg {
      inline-size: 100%;
      block-size: auto;
      max-block-size: 240mm;
      break-inside: avoid;
    }
    .title-block {
      grid-template-columns: 1fr 1fr 2fr;
    }
    .title-block > div {
      border-block-end: 0;
      border-inline-end: 1px solid var(--ink-line);
    }
    .title-block > div:last-child {
      border: 0;
    }
    .printed {
      display: block;
    }
    .time {
      display: none;
    }
    .head {
      padding: 0;
    }
    .rows {
      columns: 2;
      column-gap: 8mm;
    }
    .row,
    .title-block {
      break-inside: avoid;
      content-visibility: visible;
    }
    .row-open,
    .row-open[aria-expanded] {
      padding-block: 0.8mm;
      background: none;
    }
  }
`
