/** Runs in the browser, on the page of houses: asks for its texts again and again, and says when no answer comes. */
import type { Plate } from './plate.ts'
import type { HousesNote } from './plates.ts'

const ASK_MILLISECONDS = 5_000
/** Without an answer for so long nothing is said to be so now. */
const LOST_MILLISECONDS = 15_000

const summary = document.querySelector('.summary')!
const { frame } = document.querySelector('ul')!.dataset
const elements = [...document.querySelectorAll<HTMLElement>('li')]
/** In their places; the first answer has all of them, a later one those that changed. */
const plates: Plate[] = []

interface Answer {
  readonly note: HousesNote
  /** By two clocks: one can be set, the other may stand still while the machine sleeps. */
  readonly at: number
  readonly elapsed: number
}
let answer: Answer | undefined

const isLost = ({ at, elapsed }: Answer): boolean =>
  Math.max(Math.abs(Date.now() - at), performance.now() - elapsed) > LOST_MILLISECONDS

/** An unchanged text is left alone: a screen reader would say it again. */
function put(element: Element | null, text: string): void {
  if (element && element.textContent !== text) element.textContent = text
}

function show(): void {
  if (!answer) return
  const { note } = answer
  const lost = isLost(answer)
  document.body.classList.toggle('lost', lost)
  put(summary, lost ? note.lost : note.summary)
  for (const [index, plate] of plates.entries()) showPlate(elements[index]!, plate, lost)
}

function showPlate(element: HTMLElement, plate: Plate, lost: boolean): void {
  element.className = `${lost && plate.tone === 'shut' ? 'doubt' : plate.tone}${plate.isHeard ? '' : ' deaf'}`
  put(element.querySelector('.headline'), lost ? plate.headlineLost : plate.headline)
  put(element.querySelector('.cell'), plate.cell)
  put(element.querySelector('.keeper span'), plate.keeper)
  put(element.querySelector('.keeper small'), plate.problem)
}

function take(next: Answer): void {
  answer = next
  for (const { at, ...plate } of next.note.plates) plates[at] = plate
}

let asking = false

async function ask(): Promise<void> {
  show()
  if (asking || document.hidden) return
  asking = true
  try {
    // What is old by the time that it comes is old.
    const [at, elapsed] = [Date.now(), performance.now()]
    const after = encodeURIComponent(answer?.note.version ?? '')
    const response = await fetch(`houses.json?after=${after}`, { signal: AbortSignal.timeout(LOST_MILLISECONDS) })
    if (!response.ok) return
    const note: HousesNote = await response.json()
    if (note.frame === frame) take({ note, at, elapsed })
    else location.reload()
  } catch {
    // The page says so once it has been without an answer for long enough.
  } finally {
    asking = false
    show()
  }
}

setInterval(show, 1_000)
setInterval(ask, ASK_MILLISECONDS)
document.addEventListener('visibilitychange', ask)
addEventListener('pageshow', ask)
void ask()
