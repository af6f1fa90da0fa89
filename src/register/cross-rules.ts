import { contactRules } from './contact-rules.ts'
import { houseRules } from './house-rules.ts'
import { namesIn, type RuleContext } from './rule-context.ts'
import { senderRules } from './sender-rules.ts'
import { temperatureRules } from './temperature-rules.ts'

/** Rules that hold between parts of the register, checked on whatever could be read. */
export function crossRules(context: RuleContext): void {
  houseRules(context)
  for (const name of namesIn(context.root.senders)) senderRules(context, name)
  contactRules(context)
  temperatureRules(context)
}
