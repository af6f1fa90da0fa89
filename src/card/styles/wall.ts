import { css } from 'lit'

/** A tablet across, and a wall: the list has its cells beside it, lettering grows with the distance. */
export const wallCss = css`
  @container sash (inline-size >= 900px) {
    .headline,
    .headline.doubt {
      font-size: 44px;
    }
    .head {
      gap: 20px;
    }
    .counts {
      gap: 20px;
      font-size: 18px;
    }
    .date {
      font-size: 14px;
    }
    .acts {
      display: flex;
      align-items: center;
      gap: 16px;
      block-size: 52px;
    }
    .acts .box {
      flex: 0 0 32cqi;
      max-inline-size: 560px;
    }
    .way {
      flex: 0 1 auto;
      min-inline-size: 44px;
      white-space: nowrap;
    }
    .way span {
      overflow: hidden;
      text-overflow: ellipsis;
    }
    .way:last-child {
      margin-inline-start: auto;
    }
    .both:not(.is-beside) .list,
    .list-only .list {
      grid-template: minmax(0, 1fr) / minmax(0, 1fr) 32%;
      column-gap: 22px;
    }
    .both:not(.is-beside) .jobs ol,
    .list-only .jobs ol {
      display: block;
    }
    .both .list .jobs {
      overflow: hidden auto;
    }
    .with-panel:not(.walks) .body {
      grid-template-columns: minmax(0, 1fr) minmax(340px, 24%);
      column-gap: 18px;
    }
    .with-panel .list {
      display: grid;
    }
    .job .name small {
      display: inline;
    }
    .is-beside .jobs,
    .is-beside .jobs ol {
      display: block;
    }
  }
  @container sash (inline-size >= 900px) and (inline-size < 1200px) {
    :lang(de) .counts {
      gap: 14px;
      font-size: 16px;
    }
    .title-block,
    .both:not(.is-beside) .schedule-head,
    .both:not(.is-beside) .jobs .gates,
    .jobs .aside {
      display: none;
    }
    /* In the gap under the drawing: the rows beside it have no heading. */
    .both:not(.is-beside) .jobs h2 {
      block-size: 0;
      padding: 0;
      line-height: 0;
      position: relative;
      inset-block-start: -10px;
      overflow: visible;
    }
    .both:not(.is-beside) .list .jobs {
      overflow: visible;
    }
    .way:last-child span {
      inline-size: 0;
    }
  }
  @container sash (inline-size >= 1200px) {
    .frame {
      padding: 11px 24px;
    }
    .head {
      block-size: 62px;
      gap: 34px;
    }
    .headline,
    .headline.doubt {
      font-size: 48px;
    }
    .counts {
      gap: 26px;
      font-size: 23px;
    }
    .sign {
      block-size: 34px;
    }
    .calm {
      font-size: 15px;
    }
    .clock {
      font-size: 31px;
    }
  }
  @container sash (inline-size >= 1500px) {
    .sheet {
      font-size: 19px;
    }
    .head {
      block-size: 84px;
    }
    .headline,
    .headline.doubt {
      font-size: 68px;
    }
    .counts {
      font-size: 32px;
    }
    .sign {
      block-size: 48px;
    }
    .clock {
      font-size: 42px;
    }
    .strip {
      block-size: 32px;
    }
    .strip,
    .date,
    .calm,
    .title-block,
    .aside,
    .box small,
    .deed {
      font-size: 17px;
    }
    .strip summary {
      margin-block: -6px;
    }
    .acts,
    .box {
      block-size: 68px;
    }
    .box > .great-act,
    .box > .leads {
      font-size: 25px;
    }
    .way,
    .walk-acts > .act,
    .deed.alone {
      font-size: 21px;
    }
    .panel .panel-head h2 {
      font-size: 32px;
    }
    :is(.panel, .before > div) > .say {
      font-size: 22px;
    }
    .panel h3,
    .tick-box {
      font-size: 16px;
    }
    .tick {
      grid-template-columns: 58px minmax(0, 1fr) auto;
    }
    .tick-box {
      inline-size: 92px;
    }
    .figures svg {
      max-inline-size: 820px;
    }
    .walks :is(.floors, .ticks) {
      grid-template-columns: repeat(auto-fill, minmax(400px, 1fr));
    }
    .last-look .tick {
      block-size: 76px;
    }
  }
`
