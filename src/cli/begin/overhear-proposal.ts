import type { KeepAlive } from './overhear-wait.ts'

/** A contact as it was heard. */
export interface Proposal {
  readonly topic: string
  readonly mark: string
  readonly reports: 'openings' | 'both'
  /** `gone` is absent when it was not heard. */
  readonly words: { readonly opened: string; readonly rest?: string; readonly closed?: string; readonly gone?: string }
  readonly keepAlive?: KeepAlive
  /** JSON Pointer to the word where payloads are JSON. */
  readonly wordPointer?: string
  /** What it rests on, and what could not be told. */
  readonly because: string
}

export interface Unclear {
  readonly topic: string
  readonly why: string
  /** Words of it that the broker keeps and does not keep, where they are a contact's. */
  readonly words?: {
    readonly kept: readonly string[]
    readonly passing: readonly string[]
    readonly wordPointer?: string
  }
}

export interface Guess {
  readonly proposals: readonly Proposal[]
  readonly unclear: readonly Unclear[]
  /** Prefixes of tallies that a keeper publishes: no contacts. */
  readonly tallies: readonly string[]
}
