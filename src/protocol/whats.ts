/** What an entry can tell. */

/** What a contact says itself, or its last will says of it. */
export const CONTACT_WORDS = ['opened', 'rest', 'closed', 'gone'] as const

/** What may be said by a person. */
export const SAYABLE = [
  'seen-closed',
  'cell-fitted',
  'module-fitted',
  'flashed',
  'proved',
  'failed',
  'round',
  'note',
  'undone',
  'on-test',
] as const
export type Sayable = (typeof SAYABLE)[number]

/** `odd`: a contact's payload that the register does not know. */
export const WHATS = [...CONTACT_WORDS, 'odd', ...SAYABLE] as const
/** What an entry tells: a word of a contact, or what a person or the keeper says. */
export type What = (typeof WHATS)[number]

export const isContactWord = (what: What): boolean => (CONTACT_WORDS as readonly What[]).includes(what)
