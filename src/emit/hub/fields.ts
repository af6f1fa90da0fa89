import type { Opening, Register } from '../../register/types.ts'
import type { Scalar, Value } from './value.ts'

/** What a profile may fill in, in the order in which a match with the person's own entry is taken. */
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
  'kind',
  'side',
  'floor',
  'qos',
] as const
export type Field = (typeof FIELDS)[number]

/** Fields that are found by themselves in an entry written by hand; the others stay constants until asked for. */
export const FOUND_FIELDS = FIELDS.slice(0, FIELDS.indexOf('kind'))
/** Fields of which no two openings may share a value, and which may serve as a key. */
export const OWN_FIELDS = ['mark', 'topic', 'client', 'name'] as const

export const isField = (text: unknown): text is Field => (FIELDS as readonly unknown[]).includes(text)

/** A field, with text around it where the hub wants some. */
export interface Filling {
  readonly field: Field
  readonly before?: string
  readonly after?: string
}

export const WIRES = ['contact', 'tally'] as const
/** What a hub listens to: the contact's own topic, or the tally's plain word about it. */
export type Wire = (typeof WIRES)[number]

export const plainTopic = (tally: string, mark: string): string => `${tally}/plain/${mark}`

/** Value of a field for one opening; undefined when the opening has none. */
export function fieldOf(
  opening: Opening,
  field: Field,
  register: Pick<Register, 'tally'>,
  wire: Wire,
): string | number | undefined {
  const { sender } = opening
  const { words } = sender
  if (wire === 'tally') {
    // The contact's own words are never published on the plain topic.
    const plain = {
      topic: plainTopic(register.tally, opening.mark),
      opened: 'may-be-open',
      rest: 'closed',
      closed: 'closed',
      gone: undefined,
      qos: 1,
    }
    if (Object.hasOwn(plain, field)) return plain[field as keyof typeof plain]
  }
  switch (field) {
    case 'mark':
    case 'topic':
    case 'client':
    case 'name':
    case 'room':
    case 'kind':
      return opening[field]
    case 'opened':
      return words.opened
    case 'rest':
      return sender.reports === 'both' ? words.closed : words.rest
    case 'closed':
    case 'gone':
      return words[field]
    case 'side':
    case 'floor':
      return opening.at?.[field]
    case 'qos':
      return sender.qos
  }
}

/** What a filling makes of one opening: a number stays one unless text stands around it. */
export function filled(
  opening: Opening,
  filling: Filling,
  register: Pick<Register, 'tally'>,
  wire: Wire,
): Scalar | undefined {
  const value = fieldOf(opening, filling.field, register, wire)
  if (value === undefined) return undefined
  return filling.before || filling.after ? `${filling.before ?? ''}${value}${filling.after ?? ''}` : value
}

export const fillingText = ({ field, before = '', after = '' }: Filling): Value =>
  before || after
    ? new Map([
        ['field', field],
        ...(before ? [['before', before] as const] : []),
        ...(after ? [['after', after] as const] : []),
      ])
    : field
