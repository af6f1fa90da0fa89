/** Runs in the browser, on the page of houses: asks for its texts again and again, and says when no answer comes. */
import type { HousesNote, Plate } from './plates.ts'

const ASK_MILLISECONDS = 5_000
/** Without an answer for so long nothing is said to be so now. */
const LOST_MILLISECONDS = 15_000

const summary = document.querySelector('.summary')!
const plates = [...document.querySelectorAll<HTMLElement>('li')]

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
  for (const [index, plate] of note.plates.entries()) showPlate(plates[index]!, plate, lost)
}

function showPlate(element: HTMLElement, plate: Plate, lost: boolean): void {
  element.className = `${lost && plate.tone === 'shut' ? 'doubt' : plate.tone}${plate.isHeard ? '' : ' deaf'}`
  put(element.querySelector('.headline'), lost ? plate.headlineLost : plate.headline)
  put(element.querySelector('.cell'), plate.cell)
  put(element.querySelector('.keeper span'), plate.keeper)
  put(element.querySelector('.keeper small'), plate.problem)
}

const isSamePage = ({ plates: told }: HousesNote): boolean =>
  told.length === plates.length && told.every(({ key }, index) => key === plates[index]!.dataset.key)

let asking = false

async function ask(): Promise<void> {
  show()
  if (asking || document.hidden) return
  asking = true
  try {
    // What is old by the time that it comes is old.
    const [at, elapsed] = [Date.now(), performance.now()]
    const response = await fetch('houses.json', { signal: AbortSignal.timeout(LOST_MILLISECONDS) })
    if (!response.ok) return
    const note: HousesNote = await response.json()
    if (isSamePage(note)) answer = { note, at, elapsed }
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
