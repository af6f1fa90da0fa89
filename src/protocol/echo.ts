import { bagOf } from './parts.ts'

/**
 * What stands on `keeper/echo/<id>`. A keeper's own `marker` comes back behind everything that had waited for it. A
 * `question` asks whether a keeper is there, and is answered on the same topic: what is retained cannot answer.
 */
export interface Echo {
  readonly v: 1
  readonly kind: 'marker' | 'question' | 'answer'
  /** Who publishes it: drawn anew at each start. */
  readonly keeper: string
  /** Of an answer: since when that keeper has been at work. */
  readonly since?: string
}

export function parseEcho(text: string): Echo | undefined {
  if (text.length > 1_000) return undefined
  try {
    const bag = bagOf(JSON.parse(text))
    const { kind, keeper, since } = bag ?? {}
    if (kind !== 'marker' && kind !== 'question' && kind !== 'answer') return undefined
    if (bag?.v !== 1 || typeof keeper !== 'string' || !/^[0-9a-z]{1,36}$/.test(keeper)) return undefined
    return { v: 1, kind, keeper, ...(typeof since === 'string' ? { since: since.slice(0, 24) } : {}) }
  } catch {
    return undefined
  }
}

export const echoText = (kind: Echo['kind'], keeper: string, since?: string): string =>
  JSON.stringify({ v: 1, kind, keeper, ...(since === undefined ? {} : { since }) } satisfies Echo)
