import { KINDS, type Kind } from '../register/types.ts'

/** What `init` asks, answered. */
export interface Answers {
  readonly house: string
  readonly timezone: string
  readonly broker: string
  /** Level above the tally's topics. */
  readonly parent: string
  readonly sides: readonly { readonly name: string; readonly floors: readonly FloorAnswer[] }[]
  readonly both: boolean
}

/** Openings of one floor of one side, from left to right. */
export interface FloorAnswer {
  readonly floor: number
  readonly kind: Kind
  readonly rooms: readonly string[]
}

const isDoor = (kind: Kind): boolean => kind === 'door' || kind === 'double-door'
/** Text that YAML reads back as the same text, whatever it holds. */
const text = (value: string): string =>
  JSON.stringify(value).replace(
    /[\u007f-\u009f\u2028\u2029\ufeff]/g,
    sign => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`,
  )

/**
 * A commented register from the answers: marks are W01 … for windows and D01 … for doors, and names are the rooms.
 * It parses without an error for any answers that `faultOf` lets through.
 */
export function registerText(answers: Answers): string {
  const counts = { W: 0, D: 0 }
  const lines: string[] = []
  for (const side of answers.sides) {
    for (const { floor, kind, rooms } of side.floors) {
      for (const [index, room] of rooms.entries()) {
        const letter = isDoor(kind) ? 'D' : 'W'
        const mark = `${letter}${String(++counts[letter]).padStart(2, '0')}`
        const sender = isDoor(kind) && answers.both ? 'mains' : 'coin'
        const along = Math.round(((index + 0.5) / rooms.length) * 100) / 100
        lines.push(
          `  - { mark: ${mark}, name: ${text(room)}, room: ${text(room)}, kind: ${kind}, sender: ${sender}, at: { side: ${text(side.name)}, floor: ${floor}, along: ${along} } }`,
        )
      }
    }
  }
  const floors = 1 + Math.max(0, ...answers.sides.flatMap(side => side.floors.map(({ floor }) => floor)))
  return `# The register: every opening that has a contact. Everything else is made from it. No password ever stands here.
house: ${text(answers.house)}
timezone: ${answers.timezone}
# The host name of your broker: contacts hold it for years, so no address that may change.
broker: { mqtt: ${text(answers.broker)} }
# The tally's own topics; the level above them begins every contact's topic: ${answers.parent}/w01
tally: ${text(`${answers.parent}/tally`)}
sides: [${answers.sides.map(({ name }) => text(name)).join(', ')}]
floors: ${floors}

senders:
  # A coin cell, fed by the reed only while it is open. Its rest word says that it fell silent, not that it is shut.
  coin:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    keepAliveSeconds: 4
    load: cold-join
${
  answers.both
    ? `  # On mains through a 3.3 V regulator: reports both edges.
  mains:
    reports: both
    power: mains
    words: { opened: ajar, closed: shut, gone: lost }
`
    : ''
}
# Marks stay for good: topic and client id are made from them. Names may change at any time.
# Add cellFitted: 2026-11-25 when you fit a cell.
openings:
${lines.join('\n')}
`
}

/** Why an answer will not do, undefined when it will. */
export const faultOf = {
  name: (value: string): string | undefined =>
    value.trim() === '' || value.length > 100 || /\p{C}/u.test(value)
      ? 'a name is 1 to 100 characters on one line'
      : undefined,
  timezone: (value: string): string | undefined => {
    try {
      new Intl.DateTimeFormat('en', { timeZone: value })
      return /^[A-Za-z][A-Za-z0-9_+/-]*$/.test(value) ? undefined : 'a time zone is a name such as Europe/Lisbon'
    } catch {
      return 'a time zone is a name such as Europe/Lisbon'
    }
  },
  broker: (value: string): string | undefined =>
    /^mqtts?:\/\/[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[1-9]\d{0,4})?$/.test(value) &&
    Number(/:(\d+)$/.exec(value)?.[1] ?? 1) <= 65_535
      ? undefined
      : 'a broker is written mqtt://host or mqtts://host, with :port where it is not the usual one',
  parent: (value: string): string | undefined =>
    /^[A-Za-z0-9][A-Za-z0-9_/-]{0,60}$/.test(value) && !/\/\/|\/$/.test(value)
      ? undefined
      : 'topics begin with letters and digits here, such as house or home/windows',
  floors: (value: string): string | undefined =>
    /^[1-9]$/.test(value) ? undefined : 'floors are a number from 1 to 9',
  kind: (value: string): string | undefined =>
    (KINDS as readonly string[]).includes(value) ? undefined : `a kind is one of ${KINDS.join(', ')}`,
} as const
