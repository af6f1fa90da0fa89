import type { What } from '../../protocol/whats.ts'
import type { CHECKS } from '../json/bench.ts'

/** What one contact should do; times in seconds. */
export interface ProveRules {
  readonly mark: string
  readonly topic: string
  readonly client: string
  readonly reports: 'openings' | 'both'
  readonly opened: string
  readonly rest: string
  /** Of a contact that reports both edges. */
  readonly closed?: string
  readonly keepAliveSeconds: number
  readonly qos: 0 | 1 | 2
  readonly power: 'bench' | 'cell'
  /** Latest first word, from the key press, and what that limit rests on. */
  readonly firstWordSeconds: number
  readonly firstWordRestsOn: string
  /** Revision of the header that the register gives; only a JSON payload can carry it. */
  readonly revision: string
  readonly speaksRevision: boolean
  /** Its words are JSON, and carry a boot count. */
  readonly speaksJson?: boolean
  readonly speaksBoots?: boolean
  /** False: not one word of the house was heard, kept ones too: perhaps this account may not read it. */
  readonly heardHouse?: boolean
  /** Marks of the other contacts by topic. */
  readonly others: ReadonlyMap<string, string>
}

/** A live message; `seconds` from the key press. */
export interface SeenMessage {
  readonly seconds: number
  readonly topic: string
  readonly text: string
  readonly qos: 0 | 1 | 2
  /** The publisher's retain flag, where the broker passes it on (MQTT 5). */
  readonly retained?: boolean
  /** What the register makes of it on its topic; absent on a topic that is nobody's. */
  readonly what?: What
  readonly revision?: string
  readonly boots?: number
}

/** One opening that was watched to its end. */
export interface SeenOpening {
  readonly messages: readonly SeenMessage[]
  /** When we came in under the contact's own client id, seconds from the key press; absent: we did not. */
  readonly takenOverAt?: number
}

export interface BenchSeen {
  readonly openings: readonly SeenOpening[]
  /** What a fresh subscription was given as the retained word of the topic; `null`: nothing. Absent: not looked at. */
  readonly kept?: string | null
}

export interface Check {
  readonly name: (typeof CHECKS)[number]
  readonly result: 'passed' | 'failed' | 'not seen'
  readonly says: string
}

export interface Verdict {
  readonly proved: boolean
  readonly checks: readonly Check[]
  /** Likely causes of what failed, in the order to try them. */
  readonly causes: readonly string[]
  /** First words after the key press. */
  readonly joinMilliseconds: readonly number[]
}

/** Longest wait for a hand to shut what was opened. */
export const CLOSING_SECONDS = 30

export const one = (seconds: number): string => `${seconds.toFixed(1)} s`
export const quoted = (text: string): string => JSON.stringify(text.length > 60 ? `${text.slice(0, 59)}…` : text)

export const own = ({ messages }: SeenOpening, { topic }: ProveRules) =>
  messages.filter(message => message.topic === topic)
export const wordOf = (opening: SeenOpening, rules: ProveRules) =>
  own(opening, rules).find(({ what }) => what === 'opened')
export const restOf = (opening: SeenOpening, rules: ProveRules) => {
  const word = wordOf(opening, rules)
  return own(opening, rules).find(
    ({ what, seconds }) => (what === 'rest' || what === 'gone') && (!word || seconds >= word.seconds),
  )
}
/** The contact's word on a topic that is not its own. */
export const strayed = ({ messages }: SeenOpening, rules: ProveRules) =>
  messages.find(({ topic, text, what }) => topic !== rules.topic && (text === rules.opened || what === 'opened'))
