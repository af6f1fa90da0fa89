import { dialBrowser } from '../link/mqtt/dial-browser.ts'
import { connectOver } from '../link/mqtt/socket-connection.ts'
import { mqttFeed } from '../link/mqtt-feed.ts'
import { browserStore } from './effects/browser-store.ts'
import { SashTally } from './sash-tally.ts'
import { isTooOld, TooOld } from './too-old.ts'
import type { CardWorld } from './world.ts'

const world: CardWorld = {
  feed: (url, credentials) =>
    mqttFeed({
      url,
      connect: connectOver(dialBrowser),
      ...(credentials ? { username: credentials.user, password: credentials.password } : {}),
    }),
  store: browserStore,
  now: () => Date.now(),
  elapsed: () => performance.now(),
}

SashTally.world = world
if (!customElements.get('sash-tally')) customElements.define('sash-tally', isTooOld() ? TooOld : SashTally)

declare global {
  interface HTMLElementTagNameMap {
    'sash-tally': SashTally
  }
}

export { SashTally }
