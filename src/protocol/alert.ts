import * as z from 'zod/mini'
import { fittingJson, LONGEST } from './fitting.ts'
import { map, mark, oneOf, only, type Plain, some, time } from './parts.ts'

export const ALERTS = ['open-at-bedtime', 'open-long', 'cell-due', 'overdue', 'unheard'] as const
export type Alert = (typeof ALERTS)[number]

export const alertSchema = map({ v: only(1), what: oneOf(ALERTS), marks: some(mark, 5_000), at: time })

/** What the register asked to be told of; never more than is known. */
export interface AlertNote extends Plain<typeof alertSchema> {}

/** An alert from `alert`; undefined when it does not fit. */
export const parseAlert = (text: string): AlertNote | undefined => fittingJson(alertSchema, text)

const toldSchema = map({
  /** The last bedtime that is dealt with. */
  bedtime: time,
  /** Of each alert, by mark, what it was told about: an opening, a cell, a silence or a gap. Of open-at-bedtime, what waits for the end of a test. */
  about: z.partialRecord(oneOf(ALERTS), z.record(z.string(), z.string())),
})

/** What was told already; goes through a restart. */
export interface ToldAlerts extends Plain<typeof toldSchema> {}

/** What was told, as a keeper's store has it; undefined when it does not fit. */
export const parseTold = (text: string): ToldAlerts | undefined => fittingJson(toldSchema, text, LONGEST.register)
