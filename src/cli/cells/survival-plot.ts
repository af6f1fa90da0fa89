import { lifeLeft } from '../../budget/lives/forecast.ts'
import { survivalSteps } from '../../budget/lives/survival.ts'
import type { KindLives } from './lives.ts'
import { plotSvg, type Series } from './plot.ts'

/** Survival of a new cell by forecast, by the prior alone, and by what was seen. */
export function survivalPlot(kind: KindLives): string {
  const { modelMedian, countKnown, lives } = kind
  const base = { modelMedian, countKnown, sends: 0, replaceBelow: 0.9 }
  const house = lifeLeft({ ...base, history: lives })
  const prior = lifeLeft({ ...base, history: [] })
  const end = Math.max(house.quantile(0.99), prior.quantile(0.97))
  const curve = (of: typeof house): [number, number][] =>
    Array.from({ length: 121 }, (_, i) => [(end * i) / 120, of.surviving((end * i) / 120)])
  const steps = survivalSteps(lives)
  const shareAt = (sends: number): number => steps.findLast(([at]) => at <= sends)?.[1] ?? 1
  const running = lives.flatMap(life => ('runningAt' in life ? [life.runningAt] : []))
  const deaths = lives.length - running.length
  const series: Series[] = [
    { kind: 'line', label: 'forecast for a new cell', points: curve(house) },
    {
      kind: 'line',
      label: kind.countKnown ? 'common practice alone' : 'assumptions alone',
      points: curve(prior),
      dashed: true,
    },
  ]
  if (deaths > 0) series.push({ kind: 'steps', label: `this house's ${deaths} dead cells`, points: steps })
  if (running.length > 0) {
    const label = `${running.length} that ran so far or were changed early`
    series.push({ kind: 'dots', label, points: running.map(sends => [sends, shareAt(sends)] as const) })
  }
  return plotSvg({
    title: `Cells that still work: ${kind.label}`,
    description: `Share of cells still working against sends. Half of new cells are expected to give ${Math.round(house.quantile(0.5))}.`,
    x: { label: 'sends', from: 0, to: end },
    y: { label: 'share still working', from: 0, to: 1 },
    series,
  })
}
