import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { localTime } from '../../text/local-time.ts'
import { iso } from '../../text/time.ts'
import { NETWORK, type PasswordTimes, renewedSince } from './password-times.ts'

/** A module that holds, or may hold, a password that no longer stands in the private header. */
export interface OlderPassword {
  readonly mark: string
  readonly name: string
  /** Absent: nobody noted it, so that nobody can know. */
  readonly flashedAt?: string
  readonly renewed: readonly { readonly of: 'network' | 'account'; readonly at: string }[]
  readonly sentence: string
}

/** Modules with an older password, by when the tally says that each was flashed. */
export function olderPasswords(
  register: Register,
  entries: readonly Entry[],
  times: PasswordTimes,
): readonly OlderPassword[] {
  const local = (iso: string): string => localTime(iso, register.timezone)
  return register.openings.flatMap(({ mark, name, was }) => {
    const marks = new Set([mark, ...was])
    const own = entries.filter(entry => marks.has(entry.mark) && FLASHED.has(entry.what))
    const flashedAt = own
      .map(({ at }) => at)
      .sort()
      .at(-1)
    const since = (of: string) => renewedSince(times, of, flashedAt ?? iso(0))
    const [network, account] = [since(NETWORK), since(mark)]
    const renewed = [
      ...(network === undefined ? [] : [{ of: 'network' as const, at: network }]),
      ...(account === undefined ? [] : [{ of: 'account' as const, at: account }]),
    ]
    if (renewed.length === 0) return []
    const what = renewed
      .map(
        ({ of, at }) => `the password of ${of === 'network' ? 'the network' : 'its account'} is new since ${local(at)}`,
      )
      .join(' and ')
    const sentence =
      flashedAt === undefined
        ? `${mark}: nobody noted when it was flashed, and ${what}`
        : `${mark} was flashed ${local(flashedAt)}: ${what}`
    return [{ mark, name, ...(flashedAt === undefined ? {} : { flashedAt }), renewed, sentence }]
  })
}

/** What tells that the module in an opening was flashed. */
const FLASHED: ReadonlySet<Entry['what']> = new Set(['flashed', 'module-fitted'])
