// Stands in for `../broker-rules.ts` in the one-file card: a wall dials the WebSocket addresses alone, and its link says
// what is wrong with one (`addressFault` in link/refusals.ts).
import type { RuleContext } from '../rule-context.ts'

export function brokerRules(_context: RuleContext): void {}
