import { METRICS_TYPE, metricsText } from '../../keeper/publish/metrics.ts'
import { type Health, verdictOf } from '../../keeper/publish/verdict.ts'
import { isLoopbackAddress } from '../../text/loopback.ts'
import { type Answer, PLAIN_TEXT } from './page.ts'

const NOT_YOURS: Answer = {
  status: 403,
  type: PLAIN_TEXT,
  body: 'the figures tell when somebody is at home: they are for this machine and for the addresses of --metrics-for\n',
}

/**
 * What a monitor asks. Whether the keeper is at work is for everybody who may see the page; how much it counts is not:
 * figures that rise tell when somebody opens a window.
 * @param health - undefined before the keeper is at work
 * @param readers - addresses that may read the figures, beside this machine
 */
export function healthPages(
  health: () => Health | undefined,
  readers: readonly string[],
): ReadonlyMap<string, (from: string) => Answer> {
  const mayRead = (from: string): boolean => {
    // An IPv4 address that asks on an IPv6 socket (RFC 4291, section 2.5.5.2).
    const address = from.replace(/^::ffff:(?=\d+\.)/i, '')
    return isLoopbackAddress(address) || readers.includes(address)
  }
  return new Map<string, (from: string) => Answer>([
    [
      '/healthz',
      () => {
        const { isWell, text } = verdictOf(health())
        return { status: isWell ? 200 : 503, type: PLAIN_TEXT, body: `${text}\n` }
      },
    ],
    [
      '/metrics',
      from => (mayRead(from) ? { status: 200, type: METRICS_TYPE, body: metricsText(health()) } : NOT_YOURS),
    ],
  ])
}
