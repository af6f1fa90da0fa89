import { contactRules } from './contact-rules.ts'
import { houseRules } from './house-rules.ts'
import { senderRules } from './sender-rules.ts'
import { namesIn, type Sight } from './sight.ts'

/** Rules that hold between parts of the register, checked on whatever could be read. */
export function crossRules(sight: Sight): void {
  houseRules(sight)
  for (const name of namesIn(sight.root.senders)) senderRules(sight, name)
  contactRules(sight)
}
