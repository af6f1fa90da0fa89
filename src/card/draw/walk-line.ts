/** The way of a walk under the windows: floor by floor round the house, inked as far as one has come. */
import type { Page } from './plan.ts'
import { circle, type Path, polyline } from './shapes.ts'
import type { StepShown } from './step.ts'

/** Under the level of the floor, and from its last window to where the stair begins. */
const [BELOW, STAIR] = [5, 16]
const ARROW = 5

interface Stop {
  readonly x: number
  readonly end: number
  readonly isAhead: boolean
}

/** Nothing where the sides do not stand on one ground line: the way would lead through the air. */
export function walkLine({ elevations }: Page, steps: ReadonlyMap<string, StepShown>): readonly Path[] {
  const grounds = new Set(elevations.map(({ wall }) => Math.round(wall.y + wall.height)))
  const [first] = elevations
  if (grounds.size !== 1 || !first) return []
  const floors = first.floors.flatMap(({ floor, y }) => {
    const stops = elevations
      .flatMap(({ openings }) => openings)
      .flatMap((place): Stop[] => {
        const step = place.floor === floor ? steps.get(place.mark) : undefined
        const { x, width } = place.shape
        const isAhead = step?.state === 'next' || step?.state === 'waiting'
        return step ? [{ x: x + width / 2, end: x + width + STAIR / 2, isAhead }] : []
      })
    return stops.length > 0 ? [{ y: y + BELOW, stops }] : []
  })
  return floors.flatMap(({ y, stops }, index) => wayOf(y, stops, index < floors.length - 1))
}

/** @param leadsUp - another floor comes after it */
function wayOf(y: number, stops: readonly Stop[], leadsUp: boolean): readonly Path[] {
  const from = Math.min(...stops.map(({ x }) => x))
  const ahead = stops.filter(({ isAhead }) => isAhead)
  const to = Math.max(...stops.map(({ end }) => end))
  const reached = ahead.length > 0 ? Math.min(...ahead.map(({ x }) => x)) : to
  const stair = leadsUp
    ? polyline([to, y], [to, y - STAIR]) +
      polyline([to - ARROW, y - STAIR + ARROW], [to, y - STAIR], [to + ARROW, y - STAIR + ARROW])
    : ''
  const walked = polyline([from, y], [reached, y])
  const paths: readonly Path[] =
    ahead.length === 0
      ? [{ pen: 'sent', d: walked + stair }]
      : [
          { pen: 'unheard', d: polyline([reached, y], [to, y]) },
          { pen: 'expected', d: stair },
          { pen: 'sent', d: walked },
        ]
  return [...paths, { pen: 'solid', d: circle(from, y, 3) }]
}
