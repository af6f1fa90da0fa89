import type { Path, Raw, Tree } from './document.ts'
import type { Problem } from './types.ts'

/** What a rule may look at: undefined where the text has a problem of its own. */
export type Read = (path: Path) => Raw | undefined

/** Rules that hold between parts of the register, checked on whatever could be read. */
export function crossProblems(_tree: Tree, _read: Read): Problem[] {
  return []
}
