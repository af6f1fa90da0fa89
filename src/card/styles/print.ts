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
    .quiet-act {
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
    .plan svg {
      inline-size: 100%;
      block-size: auto;
      max-block-size: 120mm;
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
    .row-open {
      padding-block: 1.5mm;
    }
  }
`
