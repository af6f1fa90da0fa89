const LONGEST = 16
const LEVELS_TRIED = 3

const plainMark = (level: string): string =>
  level
    .replace(/[^A-Za-z0-9-]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, LONGEST)
    .replace(/-+$/, '')
    .toUpperCase() || 'X'

/** A mark for each topic: from the last level that tells the topics apart, numbered where none does. */
export function marksOf(topics: readonly string[]): string[] {
  let best: string[] = []
  for (let back = 1; back <= LEVELS_TRIED; back++) {
    const marks = topics.map(topic => plainMark(topic.split('/').at(-back) ?? topic.split('/')[0] ?? ''))
    if (new Set(marks).size > new Set(best).size) best = marks
  }
  // Client ids are made of a mark's letters and digits alone.
  const key = (mark: string): string => mark.replaceAll('-', '')
  const taken = new Set<string>()
  return best.map(plain => {
    let mark = plain
    for (let n = 2; taken.has(key(mark)); n++) mark = `${plain.slice(0, LONGEST - `-${n}`.length)}-${n}`
    taken.add(key(mark))
    return mark
  })
}
