import * as z from 'zod/mini'
import { anyTime, count, map, mark, oneOf, type Plain } from '../../protocol/parts.ts'
import { list, optional, said, words } from './parts.ts'

const module = { mark, name: words }
const header = map({
  ...module,
  holds: said(
    optional(words),
    'Revision of the header that it holds; absent: only its words tell that it is an older one.',
  ),
  wants: said(words, 'Revision that the register gives.'),
  changed: said(
    optional(list(map({ fact: words, was: optional(z.unknown()), now: optional(z.unknown()) }))),
    'Facts that differ; absent: nobody kept what was flashed.',
  ),
  sentence: words,
})
const password = map({
  ...module,
  flashedAt: said(optional(anyTime), 'Absent: nobody noted it.'),
  renewed: list(map({ of: oneOf(['network', 'account']), at: anyTime })),
  sentence: words,
})

export const checkSchema = map({
  flashedBefore: said(optional(list(header)), 'With a tally: soldered modules that hold an older header.'),
  olderPasswords: said(optional(list(password)), 'With --private: modules that hold an older password.'),
  mustComeOut: said(optional(list(header)), 'With --against: modules that the new register makes wrong.'),
  problems: list(
    map({
      file: said(optional(words), 'With --houses: the register that it stands in.'),
      code: said(words, 'Name of the rule, such as client-id-twice.'),
      severity: oneOf(['error', 'warning']),
      line: count,
      column: count,
      path: said(words, 'JSON Pointer (RFC 6901) of the place; empty: the whole file.'),
      message: words,
    }),
  ),
})
export type CheckJson = Plain<typeof checkSchema>
