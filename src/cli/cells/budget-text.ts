import { SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { eventBudget } from '../../budget/circuit/event-budget.ts'
import { wholeRange } from '../../budget/lives/whole-range.ts'
import type { EventBudget, Figure, Reservoir } from '../../budget/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import { type Column, type Comparison, NO_CHANGE, reached } from './budget-comparison.ts'
import { type Improvement, shelfOpenings } from './budget-improvements.ts'

/** `20 (6 to 46)`; `at least 20 (at worst 6)` where the model leaves what is known. */
export function openingsText({ openings, atLeast }: Pick<EventBudget, 'openings' | 'atLeast'>): string {
  const { low, middle, high } = wholeRange(openings)
  return atLeast ? `at least ${middle} (at worst ${low})` : `${middle} (${low} to ${high})`
}

/** Openings at the temperature of this month all the year. */
const monthText =
  (month: 'january' | 'july') =>
  ({ sender: { seasonCelsius, ...steady } }: Column): string =>
    seasonCelsius ? openingsText(eventBudget({ ...steady, temperatureCelsius: seasonCelsius[month] })) : '-'

/** One sentence: whether the change helps, and what helps most. `no: 20 before, 20 after; a shorter join helps most`. */
export function answerText({ now, after, idle, improvements }: Comparison): string {
  const [best] = improvements
  const easiest = improvements.find(({ needsPart }) => !needsPart) ?? best
  const most = easiest ? `; ${easiest.short} helps most${easiest === best ? '' : ', without another part'}` : ''
  const said = ({ budget, sender }: Column): string => {
    if (budget.openings.p95 === 0) return 'none, it never starts,'
    const shelf = shelfOpenings(sender)
    if (budget.openings.p50 > shelf) return `${Math.floor(shelf)} by its shelf life`
    return `${budget.atLeast ? 'at least ' : ''}${wholeRange(budget.openings).middle}`
  }
  if (!after) return `${openingsText(now.budget)} openings of one cell${most}`
  const [before, then] = [reached(now), reached(after)]
  const verdict = then > before * (1 + NO_CHANGE) ? 'yes' : then < before * (1 - NO_CHANGE) ? 'no, fewer' : 'no'
  const nothing = idle.length ? `; ${idle.join(' and ')} ${idle.length === 1 ? 'adds' : 'add'} nothing` : ''
  return `${verdict}: ${said(now)} before, ${said(after)} after${nothing}${most}`
}

const ENDS = {
  volts: 'volts under load',
  capacity: 'capacity',
  'never-starts': 'it never starts',
} as const

const reservoirText = ({ farads, place }: Reservoir): string =>
  `${Number((farads * 1000).toPrecision(3))} mF ${place === 'before-reed' ? 'before' : 'after'} the reed`

const charge = (milliampHours: number): string => `${milliampHours.toPrecision(3)} mAh`

/** The comparison as a person reads it. */
export function budgetText(comparison: Comparison): string {
  const { now, after, improvements, calibration, used } = comparison
  const both = after ? [now, after] : [now]
  const row = (head: string, of: (column: Column) => string): string[] => [head, ...both.map(of)]
  const spent = both.flatMap(column => column.budget.parts.filter(part => part.milliampHours > 0))
  const names = [...new Set(spent.map(part => part.name))]
  const part = (name: string) => (column: Column) => {
    const found = column.budget.parts.find(one => one.name === name)
    return found ? charge(found.milliampHours) : '-'
  }
  const lines = [
    answerText(comparison),
    '',
    `${tame(comparison.sender)}: openings of one cell, ${used} ${used === 1 ? 'opening uses' : 'openings use'} this kind of contact`,
    '',
    ...columns([
      ['', 'now', ...(after ? ['after'] : [])],
      row('cell', ({ sender }) =>
        typeof sender.cell === 'object' ? `${sender.cell.name}, calibrated` : (sender.cell ?? 'CR2032'),
      ),
      row('load', ({ sender }) =>
        typeof sender.load === 'string' ? sender.load : sender.load ? 'phases of your own' : 'cold-join',
      ),
      row('reservoir', ({ sender: { reservoir } }) => (reservoir ? reservoirText(reservoir) : 'none')),
      row('openings', ({ budget }) => openingsText(budget)),
      ...(both.some(({ budget }) => budget.byMonth)
        ? [row('  always as in January', monthText('january')), row('  always as in July', monthText('july'))]
        : []),
      row('ended by', ({ budget }) =>
        budget.atLeast ? `what is known (${volts(budget.volts.endRested)} rested)` : ENDS[budget.endedBy],
      ),
      row('new cell, under load', ({ budget }) => volts(budget.volts.newMinimum)),
      row('reset at', ({ budget }) => volts(budget.volts.reset)),
      row('hard charge an opening', one => `${(one.hardPerOpening * 1000).toFixed(1)} uAh`),
      row('open until empty', ({ budget }) => hours(budget.openHoursToEmpty)),
      ['charge until the end', ...both.map(() => '')],
      ...names.map(name => row(`  ${name}`, part(name))),
    ]),
  ]
  const warnings = [...new Set(both.flatMap(column => column.budget.warnings))]
  if (warnings.length) lines.push('', ...warnings.map(warning => `warning: ${tame(warning)}`))
  lines.push('', ...wordsOf(after ?? now, improvements))
  if (calibration) {
    const { solve, openings, voltsPerMilliampHour, effectiveOhms, endRestedVolts } = calibration
    const ageing = `${voltsPerMilliampHour.toPrecision(3)} V lost for each mAh drawn hard`
    const resistance = `${effectiveOhms.toFixed(2)} ohm`
    const [solved, kept] = solve === 'ageing' ? [ageing, resistance] : [resistance, ageing]
    lines.push(
      '',
      `${openings} openings mean ${solved}, at ${kept}; rested ${volts(endRestedVolts)} at the end.`,
      ...(now.sender.seasonCelsius ? ['The count is taken for one at room temperature.'] : []),
      'Against published figures:',
      ...calibration.against.map(
        one =>
          `  ${one.agrees ? 'agrees   ' : 'disagrees'}  ${one.what} ${one.here}, published ${one.published} (${one.source})`,
      ),
    )
  }
  const last = after ?? now
  lines.push('', `Range: ${last.budget.method}.`)
  if (last.budget.atLeast)
    lines.push(
      `  Were the straight line of ageing true below ${volts(last.budget.volts.endRested)} rested too, each figure alone:`,
    )
  lines.push(
    ...last.budget.sensitivity.map(
      one => `  ${one.name} ${one.limits}: ${one.worse.toFixed(1)} to ${one.better.toFixed(1)}`,
    ),
  )
  lines.push('', 'Rests on:', ...last.budget.restsOn.map(basis), '', CELL_CAUTION)
  return `${lines.join('\n')}\n`
}

const basis = (figure: Figure): string =>
  `  ${figure.status}: ${figure.name} ${Number(figure.value.toPrecision(4))} ${figure.unit} (${figure.source})`

/** In plain words what helps most. */
function wordsOf({ budget }: Column, improvements: readonly Improvement[]): string[] {
  const awake = budget.hardMilliampHours
  const all = budget.parts.reduce((sum, part) => sum + part.milliampHours, 0)
  const said =
    budget.endedBy === 'never-starts'
      ? `A new cell cannot carry this load${budget.openings.p95 > 0 ? ', if the cold counts as our own factors have it.' : ' at all.'}`
      : budget.endedBy === 'volts'
        ? `The cell ends by its volts with ${charge(awake)} drawn hard and ${charge(all)} gone in all: a shorter or gentler time awake helps most.`
        : `The cell ends empty: of ${charge(all)}, ${charge(awake)} were drawn awake.`
  const lines = improvements.slice(0, 4).flatMap(improvement => {
    const times = improvement.times === undefined ? '' : `, ${improvement.times.toFixed(1)} times as many`
    return [
      `  ${improvement.text}: ${reachedText(improvement)}${times}`,
      ...improvement.warnings.map(warning => `    careful: ${tame(warning)}`),
    ]
  })
  return [
    said,
    ...(lines.length
      ? ['What helps most, one change at a time:', ...lines]
      : ['No single change that is built in brings more.']),
  ]
}

const reachedText = (improvement: Improvement): string =>
  improvement.shelfOpenings === undefined
    ? openingsText(improvement)
    : `${Math.floor(improvement.shelfOpenings)} in the ${SHELF_YEARS} years of its shelf life (from memory), which ends it first`

const volts = (value: number): string => (Number.isFinite(value) ? `${value.toFixed(2)} V` : 'never starts')
const hours = (value: number): string =>
  !Number.isFinite(value)
    ? 'never'
    : value < 48
      ? `${value.toFixed(0)} h`
      : value < 24 * 730
        ? `${(value / 24).toFixed(1)} days`
        : `${(value / 8766).toFixed(0)} years`
