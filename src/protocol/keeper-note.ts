import { fittingJson } from './fitting.ts'
import { map, oneOf, only, optional, type Plain, text, time } from './parts.ts'

/** A keeper says that it works this often. */
export const BEAT_MILLISECONDS = 30_000
/** A keeper of which no beat was heard for this long is taken for gone. */
export const GONE_AFTER_MILLISECONDS = 3 * BEAT_MILLISECONDS

export const keeperSchema = map({
  v: only(1),
  state: oneOf(['live', 'gone', 'broken']),
  /** The keeper's clock at its last beat. */
  beat: time,
  /** Start of the present state. */
  since: time,
  problem: optional(text()),
})

/** State of the keeper. */
export interface KeeperNote extends Plain<typeof keeperSchema> {}

/** The keeper's state from `keeper`; undefined when it does not fit. */
export const parseKeeper = (text: string): KeeperNote | undefined => fittingJson(keeperSchema, text)
