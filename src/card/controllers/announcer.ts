import { html, type ReactiveController, type ReactiveControllerHost, type TemplateResult } from 'lit'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'
import { headline } from '../words/headline.ts'
import { tellPosition } from '../words/tell.ts'

/** Changes are gathered until it has been quiet for this long, but not longer than the second. */
const QUIET_MILLISECONDS = 1_500
const LONGEST_MILLISECONDS = 8_000

/** What was heard last. */
interface Heard {
  readonly rows: readonly Row[]
  readonly fresh: boolean
  readonly notCertain: number
}

/** Says changes to those who hear the sheet: a burst of words as one sentence. */
export class Announcer implements ReactiveController {
  readonly #host: ReactiveControllerHost
  #before: Heard | undefined
  readonly #changed = new Set<string>()
  /** The link came or went, or less is certain than before. */
  #hasMore = false
  #timer: ReturnType<typeof setTimeout> | undefined
  #firstAt = 0
  /** Till when it must be quiet. */
  #until = 0
  #due = false
  #text = ''

  constructor(host: ReactiveControllerHost) {
    this.#host = host
    host.addController(this)
  }

  hostConnected(): void {}

  hostDisconnected(): void {
    clearTimeout(this.#timer)
    this.#timer = undefined
    this.#changed.clear()
    this.#hasMore = false
    this.#before = undefined
  }

  region(scene: Scene | undefined): TemplateResult {
    if (scene) this.#look(scene)
    return html`<p class="unseen-by-eye" role="status" aria-live="polite">${this.#text}</p>`
  }

  #look(scene: Scene): void {
    const before = this.#before
    const { rows, fresh, head } = scene
    this.#before = { rows, fresh, notCertain: head.notCertain }
    if (before) {
      for (const { opening, reading } of rows.filter((row, index) => row !== before.rows[index])) {
        const { mark } = opening
        const earlier = before.rows.find(row => row.opening.mark === mark)
        if (earlier && earlier.reading.position !== reading.position) this.#changed.add(mark)
      }
      const hasMore = before.fresh !== fresh || head.notCertain > before.notCertain
      this.#hasMore ||= hasMore
      const isNew = hasMore || before.rows !== rows
      if (isNew && (this.#hasMore || this.#changed.size > 0)) this.#wait()
    }
    if (!this.#due) return
    this.#due = false
    this.#text = sentence(scene, [...this.#changed])
    this.#changed.clear()
    this.#hasMore = false
  }

  readonly #ring = (): void => {
    const left = this.#until - performance.now()
    this.#timer = undefined
    if (left > 0) this.#timer = setTimeout(this.#ring, left)
    else {
      this.#due = true
      this.#host.requestUpdate()
    }
  }

  #wait(): void {
    const now = performance.now()
    if (this.#timer === undefined) this.#firstAt = now
    if (now - this.#firstAt <= LONGEST_MILLISECONDS) this.#until = now + QUIET_MILLISECONDS
    this.#timer ??= setTimeout(this.#ring, QUIET_MILLISECONDS)
  }
}

function sentence(scene: Scene, marks: readonly string[]): string {
  const { words, rowOf, fresh } = scene
  const row = marks.length === 1 ? rowOf(marks[0]!) : undefined
  const said = row
    ? words.say('announceOne', {
        mark: row.opening.mark,
        name: row.opening.name,
        what: tellPosition(row, scene),
      })
    : marks.length > 0
      ? words.say('announceMany', { n: marks.length })
      : ''
  const parts = [said, fresh ? '' : words.say('announceStale'), `${words.say(...headline(scene))}.`]
  return parts.filter(Boolean).join(' ')
}
