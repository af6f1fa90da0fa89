import * as z from 'zod/mini'
import { amount, map, mark, type Plain } from '../../protocol/parts.ts'
import { leftSchema } from '../../protocol/reading.ts'

/** What the second file works out, by mark: it may be another version's, for each file is copied by itself. */
export const forecastSchema = map({ left: z.record(mark, leftSchema), modelSends: z.record(mark, amount) })

export interface Forecast extends Plain<typeof forecastSchema> {}
