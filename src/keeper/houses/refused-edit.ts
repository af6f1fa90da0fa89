import { type Clash, clashSentence } from './claims.ts'
import type { Trouble } from './kept-house.ts'
import { editRefused } from './register-watch.ts'

/** An edit that cannot be used, while the register before it holds. */
export interface RefusedEdit extends Trouble {
  /** The same for the keeper's state, which onlookers of this house read and those of another may not. */
  readonly said: string
}

export function brokenEdit(file: string, why: string): RefusedEdit {
  const text = editRefused(file, why)
  return { text, said: text, code: 'register' }
}

export const clashingEdit = (file: string, clash: Clash): RefusedEdit => ({
  text: `${clashSentence(file, clash)}: the register before it holds`,
  said: 'an edit of the register is refused, since it names a tally, a topic or a client id of another house at this broker: the register before it holds; the keeper’s log says which',
  code: 'clash',
})
