/** A page of its own for the screenshots: the card over a scripted evening, driven from outside by `stage`. */
import { SashTally } from '../../src/card/sash-tally.ts'
import { de } from '../../src/card/words/de.ts'
import { en } from '../../src/card/words/en.ts'
import { EVENING, eveningEntries, Stage } from './fixtures.ts'

const query = new URLSearchParams(location.search)
const stage = new Stage(query.get('state') === 'new' ? [] : eveningEntries(), Number(query.get('now') ?? EVENING))
SashTally.world = stage.world
localStorage.setItem('sashtally heard ropewalk/tally', String(stage.now))
// Its tablet has listened to the whole past.
localStorage.setItem('sashtally deaf ropewalk/tally', '[]')
customElements.define('sash-tally', SashTally)
Object.assign(globalThis, { stage, words: { en, de } })

const card = document.createElement('sash-tally')
for (const name of ['sheet', 'view', 'sort', 'lang']) {
  const value = query.get(name)
  if (value) card.setAttribute(name, value)
}
card.setAttribute('register', '/ropewalk.yaml')
document.body.append(card)
