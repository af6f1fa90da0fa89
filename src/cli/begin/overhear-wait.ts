import { KEEP_ALIVES, soonestWill, WILL_LATER, WILL_SOONER } from '../../protocol/last-will.ts'
import { clamp } from '../../text/clamp.ts'

const SHORTEST_KEEP_ALIVE = 1

/** A keep-alive that was told from waits, seconds. */
export interface KeepAlive {
  readonly seconds: number
  readonly least: number
  readonly most: number
  /** What it was told from. */
  readonly waits: readonly number[]
}

/** Whether a rest word after this many seconds can be a last will after silence. */
export const isWait = (seconds: number): boolean => seconds >= soonestWill(SHORTEST_KEEP_ALIVE)

/**
 * The keep-alive from the waits for the last will; the soonest and the latest bound it.
 * @param all - seconds, at least one
 * @returns `uneven` when no one keep-alive explains them: then the soonest counts
 */
export function keepAliveOf(all: readonly number[]): KeepAlive & { uneven: boolean } {
  const waits = withoutHasty(all)
  const [soonest, latest] = [Math.min(...waits), Math.max(...waits)]
  const leastOf = (wait: number): number => Math.max(SHORTEST_KEEP_ALIVE, Math.ceil((wait - WILL_LATER) / KEEP_ALIVES))
  const most = Math.max(SHORTEST_KEEP_ALIVE, Math.floor((soonest + WILL_SOONER) / KEEP_ALIVES))
  const uneven = leastOf(latest) > most
  const least = leastOf(uneven ? soonest : latest)
  return { seconds: clamp(Math.round(soonest / KEEP_ALIVES), least, most), least, most, waits: all, uneven }
}

/** Seconds within which waits count as equal, and the share of them that must be. */
const EQUAL = 0.5
const MOSTLY = 2 / 3

/**
 * Where most waits are equal, those that came sooner are no last wills after silence: a connection was closed, or
 * another contact took the client id.
 */
function withoutHasty(waits: readonly number[]): readonly number[] {
  const usual = [...waits].sort((a, b) => a - b)[Math.floor((waits.length - 1) / 2)] ?? 0
  const equal = waits.filter(wait => Math.abs(wait - usual) <= EQUAL).length
  return waits.length >= 3 && equal >= waits.length * MOSTLY ? waits.filter(wait => wait >= usual - EQUAL) : waits
}
