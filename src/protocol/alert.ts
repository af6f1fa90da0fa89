import { fittingJson } from './fitting.ts'
import { map, mark, oneOf, only, type Plain, some, time } from './parts.ts'

export const ALERTS = ['open-at-bedtime', 'open-long', 'cell-due', 'overdue', 'unheard'] as const
export type Alert = (typeof ALERTS)[number]

export const alertSchema = map({ v: only(1), what: oneOf(ALERTS), marks: some(mark, 5_000), at: time })

/** What the register asked to be told of; never more than is known. */
export interface AlertNote extends Plain<typeof alertSchema> {}

/** An alert from `alert`; undefined when it does not fit. */
export const parseAlert = (text: string): AlertNote | undefined => fittingJson(alertSchema, text)
