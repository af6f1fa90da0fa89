import { LOG_LEVELS, type LogCode } from '../../keeper/log-codes.ts'
import { map, oneOf, type Plain, time } from '../../protocol/parts.ts'
import { said, words } from './parts.ts'

const codes = Object.keys(LOG_LEVELS) as [LogCode, ...LogCode[]]

export const logSchema = map({
  time,
  level: oneOf(['info', 'warning', 'error']),
  code: said(oneOf(codes), 'What the line is of.'),
  text: words,
})
export type LogLine = Plain<typeof logSchema>
