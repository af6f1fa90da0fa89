import { css } from 'lit'

/** The sheet from a square in some other page to a wall: by the width of its own place, not of the screen. */
export const sizesCss = css`
  @container sash (inline-size < 310px) {
    .acts {
      order: 1;
    }
    .title-block {
      order: 2;
    }
  }
  @container sash (inline-size < 480px) {
    .frame {
      padding: 10px;
      gap: 8px;
    }
    .headline {
      font-size: 40px;
    }
    .head {
      padding-inline: 0;
    }
    .time {
      display: none;
    }
    .great-act {
      inline-size: 100%;
    }
    .acts .act {
      flex: 1 1 40%;
    }
    .deed {
      margin: 0;
      padding: 0;
      inline-size: 100%;
      justify-content: space-between;
    }
  }
  @container sash (inline-size >= 600px) {
    .title-block {
      grid-template-columns: 1fr 1.4fr;
    }
    .title-block > div {
      border-inline-end: 1px solid var(--ink-line);
    }
    .counts {
      font-size: 21px;
    }
    .plan {
      order: 0;
    }
    .frame:not(.with-panel) .plan {
      --bound: 1;
      block-size: 68cqi;
    }
  }
  @container sash (inline-size >= 900px) {
    .acts {
      order: 1;
    }
    .title-block {
      order: 2;
    }
    .sheet {
      overflow: hidden auto;
    }
    .frame {
      block-size: 100%;
      min-block-size: 560px;
    }
    .body {
      display: grid;
      grid-template-columns: minmax(0, 1fr) clamp(320px, 32cqi, 580px);
      gap: 18px;
      flex: 1 1 0;
    }
    .list-only .body,
    .plan-only .body {
      grid-template-columns: minmax(0, 1fr);
    }
    .plan,
    .frame:not(.with-panel) .plan {
      --bound: 1;
      order: 0;
      block-size: auto;
      min-block-size: 0;
      overflow: hidden auto;
    }
    .schedule {
      min-block-size: 0;
      overflow: hidden auto;
      border-inline-start: 1px solid var(--ink-faint);
      padding-inline-start: 16px;
    }
    .list-only .schedule {
      border: 0;
      padding: 0;
    }
    .head {
      align-items: center;
      flex-wrap: nowrap;
    }
    .headline {
      font-size: 46px;
    }
    .counts {
      font-size: 24px;
    }
    .time {
      display: grid;
    }
    .clock {
      font-size: 30px;
      line-height: 1.1;
    }
    .title-block {
      grid-template-columns: 0.8fr 1.2fr 1fr 2.2fr;
    }
    .title-block > div {
      border-block-end: 0;
      border-inline-end: 1px solid var(--ink-line);
    }
  }
  @container sash (inline-size >= 1500px) {
    .sheet {
      font-size: 19px;
    }
    .headline {
      font-size: 68px;
    }
    .counts {
      font-size: 34px;
    }
    .clock {
      font-size: 42px;
    }
    .time,
    .title-block,
    .aside {
      font-size: 17px;
    }
    .title-block h2 {
      font-size: 15px;
    }
  }
`
