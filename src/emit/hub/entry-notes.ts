import type { Opening, Register } from '../../register/types.ts'
import { firstOf } from '../../text/lists.ts'
import { shown } from '../../text/problems.ts'
import { fieldsOf, filled } from './filling.ts'
import type { Recipe } from './kept-profile.ts'

/** Up to twenty of many. */
export const someOf = (all: readonly string[]): string => firstOf(all, 20)

/** What a person should know of the entries that were made, each with the openings that it is about. */
export class EntryNotes {
  readonly #recipe: Recipe
  readonly #lacking = new Map<string, string[]>()
  /** For each place with a name: texts, and the marks of the openings that have them there. */
  readonly #labels: ReadonlyMap<string, Map<string, string[]>>
  readonly #json: string[] = []

  constructor(recipe: Recipe) {
    this.#recipe = recipe
    const { fill } = recipe.profile
    const named = [...fill.keys()].filter(pointer => fieldsOf(fill.get(pointer) ?? []).includes('name'))
    this.#labels = new Map(named.map(pointer => [pointer, new Map()]))
  }

  /** An opening lacks a field of what stands at a place. */
  lacks(mark: string, pointer: string): void {
    const marks = this.#lacking.get(pointer)
    if (marks) marks.push(mark)
    else this.#lacking.set(pointer, [mark])
  }

  made(opening: Opening): void {
    if (opening.sender.json && this.#recipe.wire === 'contact') this.#json.push(opening.mark)
  }

  /** Labels of an opening, its entry made or kept by hand. */
  labelled(opening: Opening, register: Pick<Register, 'tally'>): void {
    const { profile, wire } = this.#recipe
    for (const [pointer, labels] of this.#labels) {
      const label = String(filled(opening, profile.fill.get(pointer)!, register, wire))
      const marks = labels.get(label)
      if (marks) marks.push(opening.mark)
      else labels.set(label, [opening.mark])
    }
  }

  /** Sentences; with `only`, those that are about at least one of these openings. */
  sentences(only?: ReadonlySet<string>): string[] {
    const isAsked = (marks: readonly string[]) => marks.length > 0 && (!only || marks.some(mark => only.has(mark)))
    const said: string[] = []
    const labels = [...this.#labels].flatMap(([pointer, held]) => [...held].map(each => [pointer, ...each] as const))
    for (const [pointer, label, marks] of labels) {
      if (marks.length > 1 && isAsked(marks))
        said.push(
          `${someOf(marks)} have the same text at ${pointer}, ${shown(label)}, so nobody can tell them apart there: give them different names, or fill it with ${`[name, { text: ' (' }, mark, { text: ')' }]`}`,
        )
    }
    for (const [pointer, marks] of this.#lacking) {
      const fields = fieldsOf(this.#recipe.profile.fill.get(pointer) ?? []).join(' or ')
      if (isAsked(marks)) said.push(`No ${fields}, so ${pointer} is left out: ${someOf(marks)}`)
    }
    if (isAsked(this.#json))
      said.push(
        `These contacts send JSON, and a hub that compares whole payloads will not find the words in it: ${someOf(this.#json)}. Let the hub take the word out of the JSON, or use --wire tally`,
      )
    return said
  }
}
