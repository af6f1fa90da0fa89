import { voltsCurve } from '../../budget/circuit/event-budget.ts'
import type { Range } from '../../budget/types.ts'
import type { Column, Comparison } from './budget-comparison.ts'
import { openingsText } from './budget-text.ts'
import { plotSvg, type Series } from './plot.ts'

/** Volts under load against openings, with the reset level and the band of resistance and current. */
export function budgetPlot({ sender, now, after }: Comparison): string {
  const both: [string, Column][] = after
    ? [
        ['now', now],
        ['after', after],
      ]
    : [['now', now]]
  // Beyond a lower bound the line is drawn on for as much again.
  const last = ({ p50, p95 }: Range): number => (Number.isFinite(p95) ? p95 * 1.15 : p50 * 2)
  const upTo = Math.max(5, ...both.map(([, { budget }]) => last(budget.openings)))
  const series = both.flatMap(([name, column], index): Series[] => {
    const curve = voltsCurve(column.sender, upTo, 160)
    const points = (of: 'minimumVolts' | 'lower' | 'upper') =>
      curve.map(point => [point.openings, point[of] ?? Number.NaN] as const)
    return [
      {
        kind: 'band',
        label: `${name}: 90 % limits of resistance and current`,
        lower: points('lower'),
        upper: points('upper'),
      },
      {
        kind: 'line',
        label: `${name}: ${openingsText(column.budget)} openings`,
        points: points('minimumVolts'),
        dashed: index > 0,
      },
    ]
  })
  const resets = [...new Set(both.map(([, { budget }]) => budget.volts.reset))]
  const levels = resets.map((y): Series => ({ kind: 'level', label: `the module resets at ${y.toFixed(2)} V`, y }))
  const least = Math.min(...resets)
  return plotSvg({
    title: `${sender}: least volts at the module in each opening`,
    description: both
      .map(([name, { budget }]) => `${name}: ${openingsText(budget)} openings until ${budget.endedBy}`)
      .join('; '),
    x: { label: 'openings of one cell', from: 0, to: upTo },
    y: {
      label: 'volts under load',
      from: least - 0.3,
      to: Math.max(...both.map(([, { budget }]) => budget.volts.newMinimum || 0), least) + 0.2,
    },
    series: [...series, ...levels],
  })
}
