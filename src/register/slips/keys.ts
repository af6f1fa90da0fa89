import { house, loadPhases, opening, sender } from '../schema.ts'
import { defOf } from '../schema-problems.ts'

/** Every key that stands somewhere in a register. */
function keysIn(schema: unknown): string[] {
  const def = defOf(schema)
  if (def?.element) return keysIn(def.element)
  return Object.entries(def?.shape ?? {}).flatMap(([key, of]) => [key, ...keysIn(of)])
}

const KEYS = [...new Set([house, sender, opening, loadPhases].flatMap(keysIn))].sort((a, b) => b.length - a.length)

/** Matches one key of a register as a whole word. */
export const KEY = `\\b(?:${KEYS.join('|')})\\b`
