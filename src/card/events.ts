import type { LinkStanding } from './state/link.ts'

/** An opening was heard to open, live. Bubbles out of the element. */
export class SashOpened extends Event {
  static readonly type = 'sash-opened'
  constructor(
    readonly mark: string,
    /** ISO 8601 UTC with milliseconds. */
    readonly at: string,
  ) {
    super(SashOpened.type, { bubbles: true, composed: true })
  }
}

/** The link to the broker changed. Bubbles out of the element. */
export class SashLink extends Event {
  static readonly type = 'sash-link'
  constructor(readonly link: LinkStanding) {
    super(SashLink.type, { bubbles: true, composed: true })
  }
}

declare global {
  interface HTMLElementEventMap {
    'sash-opened': SashOpened
    'sash-link': SashLink
  }
}
