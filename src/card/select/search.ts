import type { Row } from '../state/row.ts'

/** Rows in which every typed word occurs in mark, name, room or side. */
export function matching(rows: readonly Row[], typed: string, lang: string): readonly Row[] {
  if (typed.trim() === '') return rows
  const words = typed.toLocaleLowerCase(lang).split(/\s+/).filter(Boolean)
  return rows.filter(({ opening }) => {
    const text = [opening.mark, opening.name, opening.room, opening.at?.side].join(' ').toLocaleLowerCase(lang)
    return words.every(word => text.includes(word))
  })
}
