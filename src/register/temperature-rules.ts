import { shown } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import { namesIn, type RuleContext, whose } from './rule-context.ts'

/** One temperature or one season: nobody could say which of two counts. */
export function temperatureRules({ read, root, add }: RuleContext): void {
  const openings = Array.isArray(root.openings) ? root.openings.map((_, index): Path => ['openings', index]) : []
  for (const at of [[], ...namesIn(root.senders).map((name): Path => ['senders', name]), ...openings]) {
    if (read([...at, 'temperatureCelsius']) === undefined || read([...at, 'seasonCelsius']) === undefined) continue
    const owner = whose(root, at)
    add(
      [...at, 'seasonCelsius'],
      'key',
      'two-temperatures',
      `${owner ? `${owner}: ` : ''}A contact has one temperature all the year or those of a season; ${shown('temperatureCelsius')} and ${shown('seasonCelsius')} stand side by side: take one of them out`,
    )
  }
}
