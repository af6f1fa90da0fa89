import { isScalar, type Node } from 'yaml'
import type { Opening, Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import { isValueMap, nodeAt, readValue, type Scalar, scalarsOf } from '../../text/yaml-value.ts'
import { constantFaults, settling } from './constants.ts'
import { type Fact, factsOf, partsOf } from './facts.ts'
import { type Field, NUMBER_FIELDS, type Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, fieldsOf } from './filling.ts'
import { findEntry } from './find-entry.ts'
import type { HubFile } from './hub-file.ts'
import { keyFaults } from './keys-inside.ts'
import { missing } from './learned-words.ts'
import { NOTHING_OWN, type Profile, tellsApart } from './profile.ts'
import { modelFaults } from './proof.ts'
import { readsTwoWays } from './reads-two-ways.ts'
import { type Settled, settledFillings } from './settled.ts'

export interface LearnOptions {
  readonly wire: Wire
  /** Where a block of this tally stands already. */
  readonly blockPlace?: string | undefined
  readonly fill: Settled
}

export interface Learned {
  /** Absent when a problem stands. */
  readonly profile?: Profile
  readonly problems: readonly Problem[]
  readonly remarks: readonly string[]
  /** The entry was found: a problem is about what stands in it. */
  readonly isFound: boolean
}

/** Learns a profile from the one entry that a person wrote by hand for an opening, and proves it on every other. */
export function learn(
  hub: HubFile,
  register: Register,
  opening: Opening,
  { wire, fill: asked, blockPlace }: LearnOptions,
): Learned {
  const remarks: string[] = []
  const { found, problems: lost } = findEntry(hub, register, opening, { wire, blockPlace })
  if (!found) return { problems: lost, remarks, isFound: lost[0]?.code !== 'no-entry' }
  const { written } = found
  const problems: Problem[] = []
  const refuse = (node: Node | null | undefined, path: string, code: string, message: string) => {
    const range = (node ?? found.entry).range ?? [0, 1]
    problems.push(hub.problem(code, range[0], range[1], path, message))
  }
  const refuseAt = (pointer: string, code: string, message: string) =>
    refuse(nodeAt(found.entry, pointer), found.place + pointer, code, message)
  const stop = (): Learned => ({ problems: problems.sort((a, b) => a.line - b.line), remarks, isFound: true })

  const entry = readValue(found.entry, hub.document!, (node, code, message) => refuse(node, found.place, code, message))
  if (!isValueMap(entry) || problems.length) return stop()
  if (written !== wire)
    remarks.push(
      `The entry for ${opening.mark} listens to the ${written === 'tally' ? 'tally’s plain topic' : 'contact’s own topic'}; the others get the ${wire === 'tally' ? 'plain topics and words' : 'contacts’ own topics and words'}. Change ${opening.mark} by hand, or choose --wire ${written}`,
    )
  const facts = factsOf(opening, register, written)
  const settled = settledFillings(entry, asked, { opening, register, written, isMap: found.as === 'map' })
  for (const { pointer, message } of settled.faults) refuseAt(pointer, 'fill', message)
  remarks.push(...settled.remarks)

  const fill = new Map<string, Filling | null>()
  const ties = new Map<string, readonly Fact[]>()
  for (const [pointer, scalar] of scalarsOf(entry)) {
    const own = settled.fill.get(pointer)
    if (own !== undefined) fill.set(pointer, own)
    else if (typeof scalar === 'string') {
      const filling = fillingOf(scalar, facts)
      if (filling) fill.set(pointer, filling)
      for (const field of filling ? fieldsOf(filling) : []) {
        const [fact, ...others] = tiedTo(field, facts)
        const differ = others.filter(other => differs(register, fact!.field, other.field, wire))
        if (differ.length) ties.set(pointer, [fact!, ...differ])
      }
    }
    if (!fill.has(pointer)) {
      const number = numberOf(scalar, opening, register, { wire, written })
      if (number)
        refuseAt(
          pointer,
          'number',
          `${pointer} is ${shown(scalar)}, which is the ${number} of ${opening.mark} too, and others have another: ${settling(pointer, number)}`,
        )
    }
  }
  for (const [pointer, [fact, ...others]] of ties)
    remarks.push(
      `${pointer} holds ${shown(fact!.text)}, which is the ${fact!.field} and the ${others.map(({ field }) => field).join(' and the ')} of ${opening.mark}: taken as ${fact!.field}; another is chosen with --fill ${pointer}=${others[0]!.field}, or --fill ${pointer}= to keep it as it is`,
    )
  for (const fault of keyFaults(entry, fill, { opening, register, wire, written }))
    refuseAt(fault.pointer, fault.code, fault.message)

  const name = isScalar(found.key) ? (found.key.value as Scalar) : null
  const key =
    found.as === 'map'
      ? (settled.key(name) ?? (typeof name === 'string' ? fillingOf(name, facts) : undefined))
      : undefined
  if (found.as === 'map' && !(key && tellsApart({ key, fill: new Map() })))
    refuse(
      found.key,
      found.place,
      'key',
      `Each entry in a map needs a key of its own, and ${shown(name)} holds none of mark, topic, client or name of ${opening.mark}: say --fill key=mark, or another of these`,
    )
  const profile: Profile = { place: found.place, as: found.as, ...(key && { key }), entry, fill }
  if (!tellsApart(profile)) refuse(null, found.place, 'fill', NOTHING_OWN)
  const isSettled = new Set(asked.keys())
  for (const fault of modelFaults(register, { opening, written }, { profile, wire }, isSettled))
    if (!problems.some(({ path }) => path === found.place + fault.pointer))
      refuseAt(fault.pointer, fault.code, fault.message)
  for (const fault of constantFaults(register, { profile, wire }, { settled: isSettled }))
    if (!problems.some(({ path }) => path === found.place + fault.pointer))
      refuseAt(fault.pointer, fault.code, fault.message)
  if (problems.length) return stop()
  remarks.push(...missing(profile, opening, register, written), ...readsTwoWays(found.entry, hub, fill))
  return { profile, problems, remarks, isFound: true }
}

/** The field that a text is, or its parts when it holds facts. */
function fillingOf(text: string, facts: readonly Fact[]): Filling | undefined {
  const equal = facts.find(fact => fact.text === text)
  return equal ? [equal.field] : partsOf(text, facts)
}

const tiedTo = (field: Field, facts: readonly Fact[]): Fact[] => {
  const text = facts.find(fact => fact.field === field)?.text
  return facts.filter(fact => fact.text === text)
}

/** True when two fields that are equal for the model are not for some opening, so that it matters which one is taken. */
const differs = (register: Register, one: Field, other: Field, wire: Wire): boolean =>
  register.openings.some(o => fieldOf(o, one, register, wire) !== fieldOf(o, other, register, wire))

/** The number of an opening that a scalar is, when others have another one. */
function numberOf(
  scalar: Scalar,
  opening: Opening,
  register: Register,
  { wire, written }: { wire: Wire; written: Wire },
): Field | undefined {
  if (typeof scalar !== 'number' && typeof scalar !== 'string') return undefined
  return NUMBER_FIELDS.find(field => {
    const own = fieldOf(opening, field, register, written)
    return (
      own !== undefined &&
      String(scalar) === String(own) &&
      register.openings.some(other => other !== opening && fieldOf(other, field, register, wire) !== own)
    )
  })
}
