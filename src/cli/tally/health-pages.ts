import type { KeptHouse } from '../../keeper/houses/kept-house.ts'
import { housesMetricsText, METRICS_TYPE, metricsText } from '../../keeper/publish/metrics.ts'
import {
  type Health,
  type HousesHealth,
  type Verdict,
  verdictOf,
  verdictOfHouses,
} from '../../keeper/publish/verdict.ts'
import { isLoopbackAddress } from '../../text/loopback.ts'
import { type Answer, PLAIN_TEXT } from './page.ts'

const NOT_YOURS: Answer = {
  status: 403,
  type: PLAIN_TEXT,
  body: 'the figures tell when somebody is at home: they are for this machine and for the addresses of --metrics-for\n',
}

type Pages = ReadonlyMap<string, (from: string) => Answer>

/**
 * What a monitor asks. Whether the keeper is at work is for everybody who may see the page; how much it counts is not:
 * figures that rise tell when somebody opens a window.
 * @param health - undefined before the keeper is at work
 * @param readers - addresses that may read the figures, beside this machine
 */
export const healthPages = (health: () => Health | undefined, readers: readonly string[]): Pages =>
  pagesOf({ verdict: () => verdictOf(health()), figures: () => metricsText(health()) }, readers)

/** As `healthPages`, of many houses. */
export function housesHealthPages(houses: () => readonly KeptHouse[], readers: readonly string[]): Pages {
  const health = (): HousesHealth => new Map(houses().map(({ name, keeper }) => [name, keeper?.health()]))
  const waits = () => new Map(houses().flatMap(({ name, trouble }) => (trouble ? [[name, trouble.code] as const] : [])))
  const verdict = (): Verdict => verdictOfHouses(health(), waits())
  return pagesOf({ verdict, figures: () => housesMetricsText(health()) }, readers)
}

function pagesOf(told: { verdict(): Verdict; figures(): string }, readers: readonly string[]): Pages {
  const mayRead = (from: string): boolean => {
    // An IPv4 address that asks on an IPv6 socket (RFC 4291, section 2.5.5.2).
    const address = from.replace(/^::ffff:(?=\d+\.)/i, '')
    return isLoopbackAddress(address) || readers.includes(address)
  }
  return new Map<string, (from: string) => Answer>([
    [
      '/healthz',
      () => {
        const { isWell, text } = told.verdict()
        return { status: isWell ? 200 : 503, type: PLAIN_TEXT, body: `${text}\n` }
      },
    ],
    ['/metrics', from => (mayRead(from) ? { status: 200, type: METRICS_TYPE, body: told.figures() } : NOT_YOURS)],
  ])
}
