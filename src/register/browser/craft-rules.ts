// Stands in for `../craft-rules.ts` in the one-file card: a wall shows what makes a register unusable, and no warnings.
import type { Named } from '../opening-rules.ts'
import type { RuleContext } from '../rule-context.ts'

export function senderCraft(_context: RuleContext, _name: string): void {}
export function addressRules(_context: RuleContext, _contacts: readonly Named[]): void {}
export function repeatRules(_context: RuleContext, _contacts: readonly Named[]): void {}
