/** Edits (insert, delete, replace, swap of neighbours) between two words, whatever the case. */
function editDistance(one: string, other: string): number {
  const [a, b] = [one.toLowerCase(), other.toLowerCase()]
  let [older, old]: [number[], number[]] = [[], Array.from({ length: b.length + 1 }, (_, j) => j)]
  for (let i = 1; i <= a.length; i++) {
    const row = [i]
    for (let j = 1; j <= b.length; j++) {
      let best = Math.min(old[j]! + 1, row[j - 1]! + 1, old[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1))
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) best = Math.min(best, older[j - 2]! + 1)
      row.push(best)
    }
    ;[older, old] = [old, row]
  }
  return old[b.length]!
}

/** The known word nearest to a wrong one; undefined when none is near enough to be meant. */
export function nearest(word: string, known: Iterable<string>): string | undefined {
  let best: string | undefined
  let least = Math.max(2, Math.floor(word.length / 3)) + 1
  if (word.length > 80) return undefined
  for (const candidate of known) {
    const edits = editDistance(word, candidate)
    if (edits < least && edits < candidate.length) [best, least] = [candidate, edits]
  }
  return best
}
