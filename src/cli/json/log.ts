import { LOG_LEVELS, type LogCode } from '../../keeper/log-codes.ts'
import { map, oneOf, type Plain, time } from '../../protocol/parts.ts'
import { optional, said, words } from './parts.ts'

const codes = Object.keys(LOG_LEVELS) as [LogCode, ...LogCode[]]

export const logSchema = map({
  time,
  level: oneOf(['info', 'warning', 'error']),
  code: said(oneOf(codes), 'What the line is of.'),
  house: optional(said(words, 'Of `--houses`: the house that the line is of; absent: all of them.')),
  text: words,
})
export type LogLine = Plain<typeof logSchema>
