import { css } from 'lit'

/** The sheet from a square in some other page to a wall: by the width of its own place, not of the screen. */
export const sizesCss = css`
  @container sash (inline-size < 310px) {
    .frame {
      padding: 9px;
    }
    .way span {
      font-size: 12px;
    }
    /* A square in some other page: what may be open first. */
    .plan {
      order: 1;
    }
  }
  /* Two lines of counts take no more room than one; a headline that is not live takes no further line. */
  @container sash (inline-size < 900px) {
    .headline {
      font-size: min(40px, 11.3cqi);
    }
    .headline.doubt,
    :lang(de) .headline {
      font-size: clamp(30px, 9.4cqi, 40px);
    }
    .head .stamp {
      font-size: 34px;
    }
    .counts {
      display: grid;
      grid: auto auto / auto-flow minmax(3.2em, auto);
      justify-content: start;
      gap: 0 10px;
      font-size: 15px;
    }
    .sign {
      block-size: 24px;
    }
  }
  @container sash (inline-size >= 600px) and (inline-size < 900px) {
    .counts {
      font-size: 14px;
    }
    .sign {
      block-size: 21px;
    }
  }
  /* From here on the sheet is as high as its place, and what is long scrolls inside its own band. */
  @container sash (inline-size >= 600px) {
    .frame {
      block-size: 100%;
      min-block-size: 560px;
      padding: 9px 16px;
      gap: 4px;
    }
    .head {
      flex-direction: row;
      align-items: center;
      gap: 14px;
      flex: none;
      block-size: 46px;
      min-block-size: 0;
    }
    .headline {
      flex: none;
      max-inline-size: 78%;
    }
    .headline.doubt {
      font-size: 31px;
    }
    .head .stamp {
      align-self: center;
    }
    .time {
      display: block;
    }
    .clock {
      font-size: 27px;
    }
    .date {
      font-size: 13px;
      white-space: nowrap;
    }
    .strip {
      flex: none;
    }
    .body {
      --bound: 1;
      display: grid;
      grid-template: auto minmax(0, 1fr) / minmax(0, 1fr);
      flex: 1 1 0;
      min-block-size: 0;
    }
    .list-only .body,
    .plan-only .body {
      grid-template-rows: minmax(0, 1fr);
    }
    .is-beside .body {
      grid-template: minmax(0, 1fr) / minmax(0, 1fr) 360px;
      column-gap: 18px;
    }
    .is-beside .plan,
    .plan-only .plan {
      align-self: center;
    }
    .list {
      display: grid;
      grid-template: minmax(0, 1fr) auto / minmax(0, 1fr);
      gap: 6px;
      min-block-size: 0;
    }
    .schedule {
      display: flex;
      flex-direction: column;
      min-block-size: 0;
    }
    .rows {
      flex: 1 1 0;
      min-block-size: 0;
      overflow: hidden auto;
    }
    .panel {
      min-block-size: 0;
      overflow: hidden auto;
    }
    .with-panel:not(.walks) .body {
      grid-template-rows: minmax(0, 1fr);
    }
    .with-panel .list {
      display: none;
    }
    .with-panel .jobs,
    .is-beside .jobs {
      display: none;
    }
    .job .name small {
      display: block;
    }
    .sheet {
      scroll-padding-block: 0;
    }
    .jobs ol {
      display: grid;
      grid-template-columns: repeat(auto-fit, minmax(220px, 1fr));
      gap: 12px;
    }
    .box {
      block-size: 52px;
    }
    .box small {
      display: block;
      white-space: nowrap;
      text-overflow: ellipsis;
    }
    .way {
      display: flex;
      align-items: center;
      gap: 8px;
      font-size: 16px;
      text-align: start;
    }
    .title-block {
      flex: none;
      flex-wrap: nowrap;
      overflow: hidden;
      white-space: nowrap;
    }
    .title-block > * {
      flex: none;
      max-inline-size: 50%;
      overflow: hidden;
      text-overflow: ellipsis;
    }
    .title-block > .source {
      flex-shrink: 1;
    }
  }
`
