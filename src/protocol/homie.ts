/**
 * The house as devices of the Homie convention, version 5: the keeper is the root device, each opening a child.
 * @see the Homie convention 5.0, "Topology and structure", "Payloads", "Device Lifecycle"
 */
import type * as z from 'zod/mini'
import { fittingJson, LONGEST } from './fitting.ts'
import { count, map, optional, text } from './parts.ts'
import { PLAIN_WORDS, type PlainWord } from './plain.ts'
import type { ReadingNote } from './reading.ts'
import type { RegisterNote } from './register-note.ts'

/** What a controller can be told of a device that is there. */
export type HomieState = 'init' | 'ready' | 'disconnected' | 'lost'

export interface HomieDevice {
  readonly id: string
  /** The description without its `version`, which rises with every change. */
  readonly description: Readonly<Record<string, unknown>>
  /** Values by the topic below the device: `contact/openings`. Where nothing is known no value is published. */
  readonly values: ReadonlyMap<string, string>
}

const NODE = 'contact'

/**
 * Topic above all devices of a domain, those of all as filters, those of one device, whose description stands on a
 * topic, and which one device a filter takes in.
 */
export function homieTopics(domain: string) {
  const of = (id: string) => ({
    all: `${domain}/5/${id}/#`,
    state: `${domain}/5/${id}/$state`,
    description: `${domain}/5/${id}/$description`,
    value: (name: string) => `${domain}/5/${id}/${name}`,
  })
  const { state: states, description: descriptions } = of('+')
  const idIn = (topic: string): string => topic.slice(`${domain}/5/`.length).split('/')[0] ?? ''
  const describedBy = (topic: string): string | undefined => {
    const id = idIn(topic)
    return topic === of(id).description ? id : undefined
  }
  const takenInBy = (filter: string): string | undefined => {
    const id = idIn(filter)
    return /^[a-z0-9-]+$/.test(id) && filter === of(id).all ? id : undefined
  }
  const root = `${domain}/5`
  return { root, states, descriptions, of, describedBy, takenInBy }
}

const descriptionSchema = map({ version: optional(count), root: optional(text()) })

/** What a device's description says of its version and of its root; a part that does not fit is left out. */
export const parseHomieDescription = (json: string): z.output<typeof descriptionSchema> =>
  fittingJson(descriptionSchema, json, LONGEST.register) ?? {}

/** Names of all values that a child may have. */
export const HOMIE_VALUES = ['may-be-open', 'openings', 'left', 'low'].map(name => `${NODE}/${name}`)

/** Lower-case letters, digits and hyphens: all that an id may hold. */
const idOf = (text: string): string =>
  text
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '') || 'house'

/** The root's id, of the tally's topic; no opening's mark has it. */
export function homieRoot(tally: string, marks: readonly string[]): string {
  const ids = new Set(marks.map(mark => mark.toLowerCase()))
  let root = idOf(tally)
  while (ids.has(root)) root = `${root}-house`
  return root
}

const PROPERTIES = {
  'may-be-open': { name: 'May be open', datatype: 'enum', format: PLAIN_WORDS.join(',') },
  openings: { name: 'Openings counted', datatype: 'integer', format: '0:' },
  left: { name: 'Openings left in its cell, about', datatype: 'integer', format: '0:' },
  low: { name: 'Its cell is low', datatype: 'boolean' },
} as const

/**
 * The devices of a house.
 * @param readings - by mark, as the keeper publishes them
 * @param plains - the plain word of each mark
 */
export function homieDevices(
  tally: string,
  note: RegisterNote,
  readings: ReadonlyMap<string, ReadingNote>,
  plains: ReadonlyMap<string, PlainWord>,
): readonly HomieDevice[] {
  const root = homieRoot(
    tally,
    note.openings.map(({ mark }) => mark),
  )
  const children = note.openings.map(({ mark, name, cell }): HomieDevice => {
    const reading = readings.get(mark)
    const plain = plains.get(mark)
    const { left, low, ...always } = PROPERTIES
    const properties = cell === undefined ? always : { ...always, left, low }
    const values = new Map<string, string>()
    if (plain !== undefined) values.set(`${NODE}/may-be-open`, plain)
    if (reading) {
      values.set(`${NODE}/openings`, String(reading.openings))
      if (cell !== undefined) {
        if (reading.left) values.set(`${NODE}/left`, String(Math.floor(reading.left.p50 + 1e-9)))
        values.set(`${NODE}/low`, String(reading.doubts.includes('low')))
      }
    }
    const nodes = { [NODE]: { name: 'Contact', properties } }
    return { id: mark.toLowerCase(), description: { homie: '5.0', name: `${mark} ${name}`, root, nodes }, values }
  })
  const description = { homie: '5.0', name: note.house, children: children.map(({ id }) => id) }
  return [{ id: root, description, values: new Map() }, ...children]
}
