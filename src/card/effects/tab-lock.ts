/** Which page of this tablet keeps a house's tally: of all that show the house, one writes at a time. */
import * as z from 'zod/mini'
import { type Entry, soundEntry } from '../../protocol/entry.ts'
import { fitting } from '../../protocol/fitting.ts'
import { map, oneOf, text } from '../../protocol/parts.ts'
import { freshId } from './id.ts'

/** A page that keeps the tally answers by then. */
const ANSWER_MILLISECONDS = 200
/** One that was ended without a word is missed this late. */
const AGAIN_MILLISECONDS = 10_000

interface On {
  /** Whose turn it is: said at first, and whenever it changes. */
  turn(writes: boolean): void
  /** The page that keeps the tally was told something by a person. */
  said(entry: Entry): void
}

/** A page's place among those that show a house. */
export interface TabLock {
  /** Tells the other pages what a person said. */
  tell(entry: Entry): void
  /** Lets another page keep the tally. */
  drop(): void
}

const callSchema = map({ what: oneOf(['who', 'here', 'mine', 'free']), from: text() })
type Call = z.output<typeof callSchema>

const noteSchema = map({ entry: z.unknown() })

/** By Web Locks; on a page over http, which has none, by asking the other pages. */
export function openTabLock(house: string, { turn, said }: On): TabLock {
  const name = `sashtally ${house}`
  const channel = new BroadcastChannel(name)
  const lock = navigator.locks ? byWebLock(name, turn) : byAsking(channel, turn)
  // Another version of the card, or somebody else on the page, may speak there too.
  channel.onmessage = ({ data }: MessageEvent<unknown>) => {
    const entry = soundEntry(fitting(noteSchema, data)?.entry)
    const call = fitting(callSchema, data)
    if (entry) said(entry)
    else if (call) lock.hear?.(call)
  }
  return {
    tell: entry => channel.postMessage({ entry }),
    drop() {
      lock.drop()
      channel.close()
    },
  }
}

interface Lock {
  hear?(call: Call): void
  drop(): void
}

function byWebLock(name: string, turn: On['turn']): Lock {
  const waiting = new AbortController()
  let free = () => {}
  const dropped = new Promise<void>(done => {
    free = done
  })
  const hold = () => {
    if (!waiting.signal.aborted) turn(true)
    return dropped
  }
  const first = navigator.locks.request(name, { ifAvailable: true }, lock => {
    if (lock) return hold()
    if (waiting.signal.aborted) return
    turn(false)
    navigator.locks.request(name, { signal: waiting.signal }, hold).catch(() => {})
  })
  // A page without an origin of its own may lock nothing, and shares nothing either.
  first.catch(hold)
  return {
    drop() {
      waiting.abort()
      free()
    },
  }
}

function byAsking(channel: BroadcastChannel, turn: On['turn']): Lock {
  const me = freshId()
  let writes: boolean | undefined
  let isAsking = false
  let timer: ReturnType<typeof setTimeout> | undefined
  const say = (what: Call['what']) => channel.postMessage({ what, from: me } satisfies Call)
  const ask = () => {
    isAsking = true
    clearTimeout(timer)
    timer = setTimeout(() => become(true), ANSWER_MILLISECONDS)
    say('who')
  }
  const become = (next: boolean) => {
    isAsking = false
    clearTimeout(timer)
    if (next) say('mine')
    else timer = setTimeout(ask, AGAIN_MILLISECONDS)
    if (next === writes) return
    writes = next
    turn(next)
  }
  ask()
  return {
    hear({ what, from }) {
      if (what === 'free') {
        if (!writes) ask()
      } else if (what === 'who') {
        if (writes) say('mine')
        // Of several that ask at once the least id goes first.
        else if (isAsking && me < from) say('here')
      } else if (what === 'mine' ? isAsking || writes : isAsking && from < me) become(false)
    },
    drop() {
      clearTimeout(timer)
      if (writes) say('free')
    },
  }
}
