/** What a profile may fill in; of equal texts the first field is taken. */
export const FIELDS = [
  'mark',
  'topic',
  'client',
  'name',
  'room',
  'opened',
  'rest',
  'closed',
  'gone',
  'side',
  'kind',
  'floor',
  'qos',
] as const
export type Field = (typeof FIELDS)[number]

/** Numbers: many other numbers of an entry look the same, so they are asked about and never taken by themselves. */
export const NUMBER_FIELDS = ['floor', 'qos'] as const satisfies readonly Field[]
export const TEXT_FIELDS = FIELDS.slice(0, FIELDS.indexOf('floor'))
/** Fields that tell one opening from another: one of them at least is filled. */
export const OWN_FIELDS = ['mark', 'topic', 'client', 'name'] as const satisfies readonly Field[]
export const WORD_FIELDS = ['opened', 'rest', 'closed', 'gone'] as const satisfies readonly Field[]

export const isField = (text: unknown): text is Field => (FIELDS as readonly unknown[]).includes(text)

export const WIRES = ['contact', 'tally'] as const
/** What a hub listens to: the contact's own topic, or the tally's plain word about it. */
export type Wire = (typeof WIRES)[number]
