import { asyncapi } from '../../emit/standards/asyncapi.ts'
import { runOf } from './emit-text.ts'

export const run = runOf(asyncapi)
