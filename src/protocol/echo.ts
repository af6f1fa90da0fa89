import { fittingJson } from './fitting.ts'
import { map, oneOf, only, optional, type Plain, pattern, text } from './parts.ts'

export const echoSchema = map({
  v: only(1),
  kind: oneOf(['marker', 'question', 'answer']),
  /** Who publishes it: drawn anew at each start. */
  keeper: pattern(/^[0-9a-z]{1,36}$/, 'must be 1 to 36 of the letters a-z and digits'),
  /** Of an answer: since when that keeper has been at work. */
  since: optional(text(24)),
})

/**
 * What stands on `keeper/echo/<id>`. A keeper's own `marker` comes back behind everything that had waited for it. A
 * `question` asks whether a keeper is there, and is answered on the same topic: what is retained cannot answer.
 */
export interface Echo extends Plain<typeof echoSchema> {}

/** What of a payload on `keeper/echo/<id>` fits; one longer than 1,000 is none. */
export const parseEcho = (text: string): Echo | undefined => fittingJson(echoSchema, text, 1_000)

export const echoText = (kind: Echo['kind'], keeper: string, since?: string): string =>
  JSON.stringify({ v: 1, kind, keeper, ...(since === undefined ? {} : { since }) } satisfies Echo)
