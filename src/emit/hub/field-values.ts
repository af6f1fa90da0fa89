import { PLAIN_WORDS } from '../../protocol/plain.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Opening, Register } from '../../register/types.ts'
import type { Field, Wire } from './field-names.ts'

const [MAY_BE_OPEN, CLOSED, NOT_CERTAIN] = PLAIN_WORDS
/** What the fields of a contact's words read as on the tally's plain topic, which knows no others. */
const PLAIN: Partial<Record<Field, string | number>> = {
  opened: MAY_BE_OPEN,
  rest: CLOSED,
  closed: CLOSED,
  gone: NOT_CERTAIN,
  qos: 1,
}

/** Value of a field for one opening; undefined when the opening has none. */
export function fieldOf(
  opening: Opening,
  field: Field,
  { tally }: Pick<Register, 'tally'>,
  wire: Wire,
): string | number | undefined {
  if (wire === 'tally') {
    if (field === 'topic') return tallyTopics(tally).plain(opening.mark)
    const plain = PLAIN[field]
    if (plain !== undefined) return plain
  }
  const { sender } = opening
  switch (field) {
    case 'mark':
    case 'topic':
    case 'client':
    case 'name':
    case 'room':
    case 'kind':
      return opening[field]
    case 'rest':
      return sender.reports === 'both' ? sender.words.closed : sender.words.rest
    case 'opened':
    case 'closed':
    case 'gone':
      return sender.words[field]
    case 'side':
    case 'floor':
      return opening.at?.[field]
    case 'qos':
      return sender.qos
  }
}
