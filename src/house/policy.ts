import type { Ear, Ears } from '../ledger/hear.ts'
import type { HousePolicy, Policy } from '../protocol/policy.ts'
import { canonicalJson, headerFacts } from '../register/revision.ts'
import type { Register } from '../register/types.ts'
import { own } from '../text/own.ts'
import { modelSendsOf } from './model.ts'

/** Median sends of a new cell by its model, by mark; without the openings that have no model. */
export type ModelSends = Readonly<Record<string, number>>

/** What the ledger must know of every opening of a register. */
export function policyOf(register: Register): HousePolicy {
  return withModelSends(policyWithoutModel(register), modelSendsByMark(register))
}

export const modelSendsByMark = ({ openings }: Register): ModelSends =>
  Object.fromEntries(
    openings.flatMap((opening): [string, number][] => {
      const sends = opening.sender.power === 'cell' ? modelSendsOf(opening) : undefined
      return sends === undefined ? [] : [[opening.mark, sends]]
    }),
  )

export const withModelSends = (policies: HousePolicy, modelSends: ModelSends): HousePolicy =>
  Object.fromEntries(
    Object.entries(policies).map(([mark, policy]) => {
      const sends = own(modelSends, mark)
      return [mark, sends === undefined ? policy : { ...policy, modelSends: sends }]
    }),
  )

/** As `policyOf`, but what the model of its cell says: a wall has the model in a second file. */
export function policyWithoutModel(register: Register): HousePolicy {
  return Object.fromEntries(
    register.openings.map((opening): [string, Policy] => {
      const { sender, settings } = opening
      return [
        opening.mark,
        {
          reports: sender.reports,
          power: sender.power,
          keepAliveSeconds: sender.keepAliveSeconds,
          bootSeconds: sender.bootSeconds,
          bounceSeconds: settings.bounceSeconds,
          provenWithinDays: settings.provenWithinDays,
          takeAsClosedAfterMinutes: settings.takeAsClosedAfterMinutes,
          replaceBelow: settings.replaceBelow,
          revision: opening.revision,
          timezone: register.timezone,
          ...(settings.repeatSeconds === undefined ? {} : { repeatSeconds: settings.repeatSeconds }),
          ...(opening.cellFitted === undefined ? {} : { cellFitted: opening.cellFitted }),
          ...(sender.cell === undefined ? {} : { cell: sender.cell }),
          ...(opening.was.length ? { was: opening.was } : {}),
        },
      ]
    }),
  )
}

/** What a header of this register holds, for the `text` of a `flashed` entry; undefined for another revision. */
export function factsOf(register: Register): (mark: string, revision: string) => string | undefined {
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  return (mark, revision) => {
    const opening = openings.get(mark)
    return opening?.revision === revision ? canonicalJson(headerFacts(opening, register.broker)) : undefined
  }
}

/** What to listen for on each contact's topic. */
export function earsOf(register: Register): Ears {
  return new Map(
    register.openings.map(({ topic, mark, sender }): [string, Ear] => [
      topic,
      { mark, words: sender.words, ...(sender.json ? { json: sender.json } : {}) },
    ]),
  )
}
