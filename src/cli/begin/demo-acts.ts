import type { Random } from '../../budget/lives/draw.ts'
import type { Opening, Register } from '../../register/types.ts'
import { pick, shuffled } from './random.ts'

/** What happens next in the house. */
export type Act =
  | { readonly what: 'opens' | 'bounces' | 'dies' | 'passes' | 'rattles' | 'stays-open'; readonly mark: string }
  | { readonly what: 'twins'; readonly mark: string; readonly other: string }
  | { readonly what: 'restart' }

/** Seconds from the act before, and the act. */
export interface Timed {
  readonly afterSeconds: number
  readonly act: Act
}

/**
 * A pack of these is shuffled again and again, so that everything is seen within a few minutes. Each ends with a broker
 * that restarts and forgets: what was seen shut is in doubt from then on.
 */
const PACK: readonly Act['what'][] = [
  ...Array<Act['what']>(9).fill('opens'),
  ...Array<Act['what']>(4).fill('passes'),
  'bounces',
  'rattles',
  'twins',
  'dies',
  'stays-open',
]
const MEAN_GAP_SECONDS = 7
const FIRST_GAP_SECONDS = 2

/**
 * What happens in the house, without end. The same register and random numbers give the same day.
 * Cells die oldest first, at most a fifth of them; what has died does not open again.
 * @param silent - marks of the contacts whose cells are spent already
 */
export function* acts(
  register: Register,
  random: Random,
  silent: ReadonlySet<string> = new Set(),
): Generator<Timed, never> {
  const ofCells = register.openings.filter(each => each.sender.power === 'cell' && !silent.has(each.mark))
  const doors = register.openings.filter(each => each.sender.reports === 'both')
  const oldest = [...ofCells].filter(each => each.cellFitted).sort((a, b) => (a.cellFitted! < b.cellFitted! ? -1 : 1))
  const dying = oldest.slice(0, Math.floor(ofCells.length / 5))
  const [first, second] = shuffled(
    random,
    ofCells.filter(each => !dying.includes(each) && !each.sender.json),
  )
  const dead = new Set<string>()
  const living = () => ofCells.filter(each => !dead.has(each.mark))
  const markOf = (from: readonly Opening[]) => pick(random, from).mark
  let gap = FIRST_GAP_SECONDS
  for (;;) {
    for (const what of [...shuffled(random, PACK), 'restart'] as const) {
      const act = actOf(what)
      if (!act) continue
      yield { afterSeconds: gap, act }
      gap = -Math.log(1 - random()) * MEAN_GAP_SECONDS
    }
    if (ofCells.length + doors.length === 0) throw new RangeError('a register without openings has no day')
  }

  function actOf(what: Act['what']): Act | undefined {
    switch (what) {
      case 'restart':
        return { what }
      case 'twins':
        return first && second && { what, mark: first.mark, other: second.mark }
      case 'dies': {
        const mark = dying.shift()?.mark
        if (mark !== undefined) dead.add(mark)
        return mark === undefined ? undefined : { what, mark }
      }
      case 'opens':
      case 'bounces':
        return living().length ? { what, mark: markOf(living()) } : undefined
      default:
        return doors.length ? { what, mark: markOf(doors) } : undefined
    }
  }
}
