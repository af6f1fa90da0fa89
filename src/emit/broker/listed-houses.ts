/** A title fit for a comment, which ends with its line. */
export const inComment = (title: string): string => title.replace(/[\p{C}\p{Zl}\p{Zp}]/gu, ' ')

/** First line of a house's part of an access list. */
export const listHead = (title: string): string => `# Generated from the register of ${inComment(title)}. Do not edit.`

const HEAD = /^# Generated from the register of (.*)\. Do not edit\.$/
const ONLOOKER = /^(?:.*-)?onlooker$/
const LINE = /^(user|topic (?:read|write|readwrite)) (.+)$/

/** A house of an access list that stands: what the list calls it, and its tally where the list tells. */
export interface ListedHouse {
  readonly title: string
  readonly tally: string | undefined
  /** Filters of what any of its accounts may write. */
  readonly writes: readonly string[]
}

/** The houses of an access list that was made here; of any other text none. */
export function listedHouses(text: string): readonly ListedHouse[] {
  const houses: { title: string; tally: string | undefined; writes: string[] }[] = []
  let user = ''
  for (const line of text.split(/\r?\n/)) {
    const title = HEAD.exec(line)?.[1]
    if (title !== undefined) houses.push({ title, tally: undefined, writes: [] })
    const house = houses.at(-1)
    const [, what, value = ''] = LINE.exec(line) ?? []
    if (!house || what === undefined) continue
    if (what === 'user') user = value
    else if (what !== 'topic read') house.writes.push(value)
    else if (ONLOOKER.test(user) && value.endsWith('/#')) house.tally = value.slice(0, -2)
  }
  return houses
}
