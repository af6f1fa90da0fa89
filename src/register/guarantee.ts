import type { Sender } from './types.ts'

/**
 * How surely each word of a sender is counted once, in words, while a keeper runs.
 * From the broker on it is the keeper's doing; before it, the sender's QoS and boot count decide.
 */
export function guaranteeOf(sender: Pick<Sender, 'qos' | 'json'>): string {
  const boots = sender.json?.boots !== undefined
  const before =
    sender.qos === 0
      ? `before it at most once (QoS 0): a word can be lost on the way, and ${boots ? 'only a gap in the boot count shows it' : 'no one can know'}`
      : `before it at least once (QoS ${sender.qos}): ${boots ? 'a word that the contact sends again is known by its boot count and counted once' : 'a word that the contact sends again, its acknowledgement lost, may count twice'}`
  return `exactly once from the broker on; ${before}`
}
