/** First line of a house's part of an access list. */
export const listHead = (title: string): string =>
  `# Generated from the register of ${title.replace(/\p{C}/gu, ' ')}. Do not edit.`

const HEAD = /^# Generated from the register of (.*)\. Do not edit\.$/m
const ONLOOKER = /^user (?:.*-)?onlooker\ntopic read (.+)\/#$/m

/** A house of an access list that stands: what the list calls it, and its tally where the list tells. */
export interface ListedHouse {
  readonly title: string
  readonly tally: string | undefined
}

/** The houses of an access list that was made here; of any other text none. */
export function listedHouses(text: string): readonly ListedHouse[] {
  const [, ...parts] = text.split(HEAD)
  return parts.flatMap((title, index) =>
    index % 2 === 0 ? [{ title, tally: ONLOOKER.exec(parts[index + 1] ?? '')?.[1] }] : [],
  )
}
