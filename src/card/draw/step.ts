/** The place of an opening in a walk round the house: its number, its tick, or the frame of the next one. */
import { circle, type Path, polyline, rectangle, type Shape, type Text } from './shapes.ts'

export interface StepShown {
  /** From 1, in walking order. */
  readonly number: number
  /** `failed`: opened, and no word came. */
  readonly state: 'done' | 'next' | 'waiting' | 'failed' | 'sending'
}

/** Radius of a number's disc. */
const DISC = 11

export function drawStep({ number, state }: StepShown, width: number, height: number): readonly Shape[] {
  const [x, y] = [width / 2, height / 2]
  if (state === 'done' || state === 'sending') {
    const ground: Path = { pen: 'glass', d: circle(x, y, DISC + 2) }
    return [ground, tick(x, y, state === 'done' ? 'tick' : 'tick-sent')]
  }
  const disc: readonly Path[] = [
    { pen: state === 'next' ? 'solid' : 'glass', d: circle(x, y, DISC) },
    { pen: state === 'failed' ? 'doubt-line' : 'expected', d: circle(x, y, DISC) },
  ]
  const text: Text = {
    letter: state === 'next' ? 'step-next' : state === 'failed' ? 'tag-text-doubt' : 'tag-text',
    x,
    y: y + 4.2,
    text: String(number),
    anchor: 'middle',
  }
  const frame: readonly Path[] = state === 'next' ? [{ pen: 'cut', d: rectangle(-5, -5, width + 10, height + 9) }] : []
  return [...frame, ...disc, text]
}

const tick = (x: number, y: number, pen: 'tick' | 'tick-sent'): Path => ({
  pen,
  d: polyline([x - 8, y + 1], [x - 2, y + 8], [x + 9, y - 8]),
})
