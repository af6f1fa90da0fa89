/** The house as the card sees it, whether from a register file or from a keeper. */

import { policyWithoutModel } from '../../house/policy.ts'
import type { HousePolicy, Policy } from '../../protocol/policy.ts'
import type { RegisterNote } from '../../protocol/register-note.ts'
import { KINDS, type Kind, type Place, type Register, ROOFS, type Roof } from '../../register/types.ts'

export interface CardOpening {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly kind: Kind
  readonly at?: Place
  readonly reports: 'openings' | 'both'
  readonly power: 'cell' | 'mains'
  readonly cell?: string
  /** As the ledger reads its words. */
  readonly policy: Policy
}

export interface CardHouse {
  readonly name: string
  readonly timezone: string
  readonly sides: readonly string[]
  readonly floors: number
  readonly roof: Roof
  readonly openings: readonly CardOpening[]
}

export function houseOf(register: Register, policies: HousePolicy = policyWithoutModel(register)): CardHouse {
  const { house: name, timezone, sides, floors, roof } = register
  const openings = register.openings.map(({ mark, name, room, kind, at, sender }) => ({
    mark,
    name,
    kind,
    reports: sender.reports,
    power: sender.power,
    policy: policies[mark]!,
    ...(room === undefined ? {} : { room }),
    ...(at === undefined ? {} : { at }),
    ...(sender.cell === undefined ? {} : { cell: sender.cell }),
  }))
  return { name, timezone, sides, floors, roof, openings }
}

export function houseOfNote(note: RegisterNote): CardHouse {
  const { house: name, sides, floors } = note
  const openings = note.openings.map(({ mark, name, room, kind, at, reports, cell, policy }) => ({
    mark,
    name,
    kind: KINDS.find(each => each === kind) ?? 'window',
    reports,
    power: policy.power,
    policy,
    ...(room === undefined ? {} : { room }),
    ...(at === undefined ? {} : { at }),
    ...(cell === undefined ? {} : { cell }),
  }))
  const roof = ROOFS.find(each => each === note.roof) ?? 'gable'
  return { name, timezone: zoneOr(note.timezone), sides, floors, roof, openings }
}

function zoneOr(timezone: string): string {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: timezone }).resolvedOptions().timeZone
  } catch {
    return 'UTC'
  }
}
