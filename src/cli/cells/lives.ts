import { type CellHistory, isDoubtful, sendsGiven } from '../../budget/lives/cell-history.ts'
import type { Lifetime } from '../../budget/lives/lifetime.ts'
import { type CellKind, cellKindIn } from '../../house/cell-kind.ts'
import type { Register, Settings } from '../../register/types.ts'

/** All lives of one kind of cell in this house. */
export interface KindLives {
  readonly kind: string
  /** For a person: cell and load. */
  readonly label: string
  /** Median sends of a new cell by the model: the middle of this kind's openings. */
  readonly modelMedian: number
  readonly countKnown: boolean
  readonly atLeast: boolean
  /** They have sent though the model says that this load never starts. */
  readonly refuted: boolean
  /**
   * Ended and running; those counted from new only, since a fit and a curve need their whole length. Where the model
   * differs from opening to opening each life is scaled to `modelMedian` by its own.
   */
  readonly lives: Lifetime[]
  readonly scaled: boolean
  /** Some of them stand in the cold, all the year or in winter. */
  readonly cold: boolean
  /** The lives of some are told in sends at room temperature. */
  readonly inSeason: boolean
  readonly marks: string[]
}

interface Lived {
  readonly life: Lifetime
  readonly modelMedian: number
}

/** Lives by kind, the kind with the most openings first. */
export function livesByKind(register: Register, histories: readonly CellHistory[]): KindLives[] {
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  const kinds = new Map<string, { lived: Lived[]; present: CellHistory[]; sender: string | undefined }>()
  const kindFor = (kind: string, cell: CellHistory) => {
    const found = kinds.get(kind) ?? { lived: [], present: [], sender: openings.get(cell.mark)?.sender.name }
    kinds.set(kind, found)
    return found
  }
  for (const cell of histories) {
    const { modelMedian } = cell
    const own = kindFor(cell.kind, cell)
    own.present.push(cell)
    if (!isDoubtful(cell) && cell.unknownBefore === undefined && cell.sends > 0)
      own.lived.push({ life: { runningAt: sendsGiven(cell) }, modelMedian })
    for (const { kind = cell.kind, modelMedian: model = modelMedian, unknownBefore, ...life } of cell.past) {
      if (unknownBefore === undefined) kindFor(kind, cell).lived.push({ life, modelMedian: model })
    }
  }
  return [...kinds]
    .map(([kind, { lived, present, sender }]): KindLives => {
      const known = cellKindIn(kind)
      const models = (present.length ? present : lived).map(({ modelMedian }) => modelMedian).sort((a, b) => a - b)
      const modelMedian = models[(models.length - 1) >> 1]!
      const settings = present.flatMap(({ mark }) => openings.get(mark)?.settings ?? [])
      const differs = (of: { readonly modelMedian: number }): boolean =>
        Math.abs(of.modelMedian / modelMedian - 1) > 1e-3
      return {
        kind,
        label: known ? labelOf(known, sender, settings) : kind,
        modelMedian,
        countKnown: known?.countKnown === true,
        atLeast: present.some(({ atLeast }) => atLeast),
        refuted: present.some(({ modelRefuted }) => modelRefuted),
        lives: lived.map(one => (differs(one) ? scaled(one.life, modelMedian / one.modelMedian) : one.life)),
        scaled: lived.some(differs),
        cold: known?.cold === true,
        inSeason: present.some(({ cold }) => cold),
        marks: present.map(({ mark }) => mark),
      }
    })
    .sort((a, b) => b.marks.length - a.marks.length)
}

/**
 * `CR2032, cold-join`, or the sender's name where its load is the person's own; what takes the known count from it:
 * `CR2032, cold-join, with a lamp`; and whether it is cold there.
 */
function labelOf(
  { type, load, countKnown, cold }: CellKind,
  sender: string | undefined,
  settings: readonly Settings[],
): string {
  const name = `${type ?? 'cell'}, ${load ?? `load of ${sender ?? 'its own'}`}${cold ? ', in the cold' : ''}`
  if (countKnown || type !== 'CR2032' || load !== 'cold-join') return name
  return `${name}, ${settings.some(({ lampMilliamps = 0 }) => lampMilliamps > 0) ? 'with a lamp' : 'with another reset'}`
}

function scaled(life: Lifetime, by: number): Lifetime {
  if ('runningAt' in life) return { runningAt: life.runningAt * by }
  if ('failedAt' in life) return { failedAt: life.failedAt * by }
  return { failedBetween: [life.failedBetween[0] * by, life.failedBetween[1] * by] }
}
