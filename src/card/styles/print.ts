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
    .title-block,
    .time {
      display: none !important;
    }
    .plan-drawing > svg {
      inline-size: 100%;
      block-size: auto;
      max-block-size: 112mm;
      break-inside: avoid;
    }
    .schedule-head {
      display: flex !important;
    }
    .rows {
      columns: 2;
      column-gap: 8mm;
    }
    .row {
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
    .printed {
      display: grid;
      grid-template-columns: 1fr 30mm 48mm;
      break-inside: avoid;
      margin-block-start: 2mm;
      border: 1px solid var(--ink-line);
      font-size: 11px;
      line-height: 1.2;
    }
    .printed > * {
      padding: 1mm 2mm;
    }
    .printed > * + * {
      border-inline-start: 1px solid var(--ink-line);
    }
    .key {
      columns: 2;
    }
    .key li {
      flex-wrap: nowrap;
      gap: 2mm;
      min-block-size: 0;
    }
    .key li > :last-child {
      padding: 0;
    }
    .kinds > svg + svg {
      display: none;
    }
    .key-figure {
      inline-size: 6mm;
      block-size: 6mm;
    }
    .looked-by {
      color: var(--ink-note);
    }
    .printed .house-name {
      font-size: 15px;
    }
    .pen {
      margin-inline-start: auto;
      color: var(--ink-note);
      font-size: 11px;
    }
    *,
    :focus-visible {
      outline: none !important;
    }
  }
`
