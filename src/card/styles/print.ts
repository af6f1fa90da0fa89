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
    .frame:not(.with-panel) .plan {
      --bound: 1;
      block-size: 130mm;
    }
    .with-panel .plan {
      block-size: auto;
    }
    .plan-drawing,
    .plan-drawing > svg {
      inline-size: 100%;
      block-size: 100%;
    }
    .title-block {
      grid-template-columns: 1fr 1fr 2fr;
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
      padding-block: 0.8mm;
    }
  }
`
