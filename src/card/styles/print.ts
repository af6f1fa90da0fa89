import { css } from 'lit'

/** A4, for the inside of a cupboard door: the drawing on top, the whole schedule under it, with a box for a pen. */
export const printCss = css`
  @media print {
    :host,
    .sheet,
    .frame,
    .body,
    .plan,
    .list,
    .schedule,
    .rows {
      display: block !important;
      block-size: auto !important;
      min-block-size: 0 !important;
      overflow: visible !important;
    }
    .sheet {
      print-color-adjust: exact;
      -webkit-print-color-adjust: exact;
    }
    .frame {
      border: 0;
      outline: 0;
      padding: 0 !important;
    }
    .acts,
    .order,
    .search,
    .strip,
    .skip,
    .jobs,
    .time {
      display: none !important;
    }
    .plan-drawing > svg {
      inline-size: 100%;
      block-size: auto;
      max-block-size: 124mm;
      break-inside: avoid;
    }
    .schedule-head {
      display: flex !important;
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
      grid-template-columns: 4mm 44px minmax(0, 1fr);
      min-block-size: 0;
      background: none;
    }
    .row-open::before {
      content: '';
      inline-size: 4mm;
      block-size: 4mm;
      border: 1px solid var(--ink-line);
    }
    .row-open {
      padding: 0;
      line-height: 1.1;
    }
    .row .tag {
      block-size: 21px;
    }
    .row bdi {
      font-size: 13px;
    }
    .row :is(.say, .left) {
      font-size: 11px;
      line-height: 1.2;
    }
    .title-block {
      display: flex !important;
    }
    .printed {
      font-size: 12px;
    }
    :focus-visible {
      outline: none;
    }
  }
`
