import type { Steps } from '../text/steps.ts'
import { contactRules } from './contact-rules.ts'
import { houseRules } from './house-rules.ts'
import { namesIn, type RuleContext } from './rule-context.ts'
import { senderRules } from './sender-rules.ts'
import { temperatureRules } from './temperature-rules.ts'

/** Rules that hold between parts of the register, checked on whatever could be read, in steps. */
export function* crossRules(context: RuleContext): Steps<void> {
  houseRules(context)
  yield
  for (const name of namesIn(context.root.senders)) senderRules(context, name)
  yield
  contactRules(context)
  yield
  temperatureRules(context)
}
