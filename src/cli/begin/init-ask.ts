import type { Kind, Words } from '../../register/types.ts'
import { takenNames } from './init-names.ts'
import {
  type AlertAnswers,
  type Answers,
  CONTACTS,
  type ContactKind,
  type FloorAnswer,
  faultOf,
  floorName,
  isDoor,
  NONE,
  type OpeningAnswer,
  USUAL_WORDS,
  wordsOf,
} from './init-text.ts'

const MOST_OF_ONE_ROOM = 50
const MANY = /^(.*\S)\s*\*\s*(\d{1,4})$/

/** Parts between commas; blanks around them go. */
export const listOf = (answer: string): string[] =>
  answer
    .split(',')
    .map(part => part.trim())
    .filter(Boolean)

/** `Hall *3` stands for three openings of one room; anything else for one. */
export function roomsOf(answer: string): { readonly room: string; readonly name: string }[] {
  return listOf(answer).flatMap(part => {
    const [, room, count] = MANY.exec(part) ?? []
    if (room === undefined) return [{ room: part, name: part }]
    return Array.from({ length: Math.min(Number(count), MOST_OF_ONE_ROOM + 1) }, (_, index) => ({
      room,
      name: `${room} ${index + 1}`,
    }))
  })
}

type Fault = (value: string) => string | undefined

/**
 * Asks all that a first register needs; an answer that will not do is asked for again, with the rule.
 * @param ask - resolves to what was typed; its rejection ends the questions
 * @param say - told the rule that an answer broke
 */
export async function askAnswers(
  ask: (question: string) => Promise<string>,
  say: (rule: string) => void,
): Promise<Answers> {
  const one = async (question: string, fallback: string, fault: Fault): Promise<string> => {
    for (;;) {
      const answer = (await ask(`${question}${fallback ? ` [${fallback}]` : ''}: `)).trim() || fallback
      const wrong = fault(answer)
      if (wrong === undefined) return answer
      say(wrong)
    }
  }
  /** One value for all, or one for each. */
  const each = async <T extends string>(
    question: string,
    fallback: string,
    count: number,
    fault: Fault,
  ): Promise<T[]> => {
    const answer = await one(question, fallback, value => {
      const list = listOf(value)
      if (list.length !== 1 && list.length !== count)
        return `give one for all, or ${count} with commas between; found ${list.length}`
      return firstFault(list, fault)
    })
    const list = listOf(answer) as T[]
    return list.length === 1 ? Array.from({ length: count }, () => list[0]!) : list
  }

  const house = await one('Name of the house', '', faultOf.name)
  const timezone = await one('Time zone', Intl.DateTimeFormat().resolvedOptions().timeZone, faultOf.timezone)
  const broker = await one('Your MQTT broker', 'mqtt://broker.lan', faultOf.broker)
  const websocket = await one(
    `Its address for walls in a browser: MQTT over WebSockets; ${NONE} where there is no wall`,
    broker.replace(/^mqtt(s?):\/\/([^:]*).*$/, (_, tls, host) => `ws${tls}://${host}:9001`),
    faultOf.websocket,
  )
  const parent = await one('Topics begin with', 'house', faultOf.parent)
  const built = listOf(
    await one('Contacts you build: coin (a coin cell, reports openings), mains (reports both edges)', 'coin', value =>
      listOf(value).length ? (firstFault(listOf(value), faultOf.contact) ?? twice(listOf(value))) : 'name one',
    ),
  ) as ContactKind[]
  const kinds = CONTACTS.filter(kind => built.includes(kind))
  const contacts: Partial<Record<ContactKind, Words>> = {}
  for (const kind of kinds) {
    const usual = Object.values(USUAL_WORDS[kind]) as string[]
    const typed = await one(WORD_QUESTIONS[kind], usual.join(', '), value => {
      const list = listOf(value)
      if (list.length !== usual.length) return `give ${usual.length} words with commas between; found ${list.length}`
      return firstFault(list, faultOf.word) ?? twice(list)
    })
    contacts[kind] = wordsOf(kind, listOf(typed))
  }
  const alerts = await askAlerts(one)
  const sideNames = listOf(
    await one('Sides in walking order, with commas', 'south, east, north, west', value =>
      listOf(value).length
        ? (firstFault(listOf(value), faultOf.side) ?? twice(listOf(value)))
        : 'name at least one side',
    ),
  )
  const floors = Number(await one('Floors, ground floor included', '2', faultOf.floors))

  const names = takenNames()
  const openingsAt = async (side: string, where: string): Promise<OpeningAnswer[]> => {
    const rooms = roomsOf(
      await one(
        `${where}: the room of each opening, left to right from outside, with commas; Hall *3 for three (none: Enter)`,
        '',
        value => roomsFault(value),
      ),
    )
    if (rooms.length === 0) return []
    const openings: OpeningAnswer[] = []
    const kindsThere = await each<Kind>('  their kinds', 'window', rooms.length, faultOf.kind)
    const usual = kindsThere.map(kind => (kinds.length === 1 ? kinds[0]! : isDoor(kind) ? 'mains' : 'coin'))
    const known: Fault = value =>
      (kinds as readonly string[]).includes(value) ? undefined : `a contact is one of ${kinds.join(', ')}`
    const made =
      kinds.length > 1 ? await each<ContactKind>('  their contacts', usual.join(', '), rooms.length, known) : usual
    for (const [index, { room, name }] of rooms.entries()) {
      const free = names.isTaken(name)
        ? await one(
            `  ${name} is taken (${names.whereOf(name)}): a name for this one`,
            names.another(name, side),
            value => faultOf.name(value) ?? (names.isTaken(value) ? `${value} is taken too: give another` : undefined),
          )
        : name
      names.take(free, where)
      openings.push({ room, name: free, kind: kindsThere[index]!, contact: made[index]! })
    }
    return openings
  }
  const sides: { name: string; floors: FloorAnswer[] }[] = sideNames.map(name => ({ name, floors: [] }))
  for (;;) {
    for (const side of sides) {
      for (let floor = 0; floor < floors; floor++) {
        const openings = await openingsAt(side.name, `${side.name}, ${floorName(floor)}`)
        if (openings.length) side.floors.push({ floor, openings })
      }
    }
    if (sides.some(side => side.floors.length > 0)) break
    say('a register has at least one opening, and none was named: side by side once more')
  }
  return {
    house,
    timezone,
    broker,
    ...(websocket === NONE ? {} : { websocket }),
    parent,
    contacts,
    ...(Object.keys(alerts).length ? { alerts } : {}),
    floors,
    sides,
  }
}

const WORD_QUESTIONS: Readonly<Record<ContactKind, string>> = {
  coin: '  Words of coin, with a comma: when opened, and the rest word that the broker says after it',
  mains: '  Words of mains, with commas: when opened, when closed, and its last will when it is gone',
}

type One = (question: string, fallback: string, fault: Fault) => Promise<string>

async function askAlerts(one: One): Promise<AlertAnswers> {
  const bedtime = await one('Tell at bedtime what may be open, such as 22:30 (never: Enter)', '', faultOf.bedtime)
  const minutes = await one(
    'Tell what nobody has seen shut for so many minutes, such as 240 (never: Enter)',
    '',
    faultOf.openLongMinutes,
  )
  const to = await one('Post it to an address, such as http://hub.lan:8099/alerts (none: Enter)', '', faultOf.to)
  return {
    ...(bedtime ? { bedtime } : {}),
    ...(minutes ? { openLongMinutes: Number(minutes) } : {}),
    ...(to ? { to } : {}),
  }
}

function firstFault(list: readonly string[], fault: Fault): string | undefined {
  for (const part of list) {
    const wrong = fault(part)
    if (wrong !== undefined) return `${wrong}; found ${JSON.stringify(part)}`
  }
  return undefined
}

function twice(list: readonly string[]): string | undefined {
  const again = list.find((part, index) => list.indexOf(part) < index)
  return again === undefined ? undefined : `each is named once; ${JSON.stringify(again)} stands there twice`
}

function roomsFault(answer: string): string | undefined {
  for (const part of listOf(answer)) {
    const count = MANY.exec(part)?.[2]
    if (count !== undefined && (Number(count) < 1 || Number(count) > MOST_OF_ONE_ROOM))
      return `one room has 1 to ${MOST_OF_ONE_ROOM} openings on a floor of a side; found ${count}`
  }
  return firstFault(
    roomsOf(answer).map(({ name }) => name),
    faultOf.name,
  )
}
