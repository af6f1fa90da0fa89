import type { Kind } from '../../register/types.ts'
import {
  type Answers,
  CONTACTS,
  type ContactKind,
  type FloorAnswer,
  faultOf,
  isDoor,
  type OpeningAnswer,
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

/**
 * Asks all that a first register needs; an answer that will not do is asked for again, with the rule.
 * @param ask - resolves to what was typed; its rejection ends the questions
 * @param say - told the rule that an answer broke
 */
export async function askAnswers(
  ask: (question: string) => Promise<string>,
  say: (rule: string) => void,
): Promise<Answers> {
  const one = async (
    question: string,
    fallback: string,
    fault: (value: string) => string | undefined,
  ): Promise<string> => {
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
    fault: (value: string) => string | undefined,
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
  const parent = await one('Topics begin with', 'house', faultOf.parent)
  const contacts = listOf(
    await one('Contacts you build: coin (a coin cell, reports openings), mains (reports both edges)', 'coin', value =>
      listOf(value).length ? (firstFault(listOf(value), faultOf.contact) ?? twice(listOf(value))) : 'name one',
    ),
  ) as ContactKind[]
  const sideNames = listOf(
    await one('Sides in walking order, with commas', 'south, east, north, west', value =>
      listOf(value).length
        ? (firstFault(listOf(value), faultOf.side) ?? twice(listOf(value)))
        : 'name at least one side',
    ),
  )
  const floors = Number(await one('Floors, ground floor included', '2', faultOf.floors))

  const openingsAt = async (where: string): Promise<OpeningAnswer[]> => {
    const rooms = roomsOf(
      await one(
        `${where}: the room of each opening, left to right from outside, with commas; Hall *3 for three (none: Enter)`,
        '',
        value => roomsFault(value),
      ),
    )
    if (rooms.length === 0) return []
    const kinds = await each<Kind>('  their kinds', 'window', rooms.length, faultOf.kind)
    const usual = contacts.length > 1 ? kinds.map(kind => (isDoor(kind) ? 'mains' : 'coin')).join(', ') : contacts[0]!
    const known = (value: string) =>
      (contacts as readonly string[]).includes(value) ? undefined : `a contact is one of ${contacts.join(', ')}`
    const made =
      contacts.length > 1
        ? await each<ContactKind>('  their contacts', usual, rooms.length, known)
        : rooms.map(() => contacts[0]!)
    return rooms.map((room, index) => ({ ...room, kind: kinds[index]!, contact: made[index]! }))
  }
  const sides: { name: string; floors: FloorAnswer[] }[] = []
  for (const name of sideNames) {
    const side: FloorAnswer[] = []
    for (let floor = 0; floor < floors; floor++) {
      const openings = await openingsAt(`${name}, ${floor === 0 ? 'ground floor' : `floor ${floor}`}`)
      if (openings.length) side.push({ floor, openings })
    }
    sides.push({ name, floors: side })
  }
  return { house, timezone, broker, parent, contacts: CONTACTS.filter(kind => contacts.includes(kind)), floors, sides }
}

function firstFault(list: readonly string[], fault: (value: string) => string | undefined): string | undefined {
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
