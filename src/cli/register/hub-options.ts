import { FIELDS, type Field, isField } from '../../emit/hub/field-names.ts'
import { nearest } from '../../text/nearest.ts'
import type { Kind } from '../program/kinds.ts'

/** What a person settles of an entry. */
export interface Fill {
  /** JSON Pointer in the entry, or `key`. */
  readonly pointer: string
  /** A field; `null` keeps the value as it is; absent where parts are given. */
  readonly field?: Field | null
  /** Parts as YAML flow, not read yet. */
  readonly parts?: string
}

/** `/pointer=field`, `key=field`, `/pointer=[parts]` or `/pointer=`; a pointer and a text may hold = themselves. */
export const fill: Kind<Fill> = {
  read: given => {
    const list = given.trimEnd().endsWith(']') ? given.indexOf('=[') : -1
    const cut = list < 0 ? given.lastIndexOf('=') : list
    const [pointer, held] = [given.slice(0, Math.max(0, cut)), given.slice(cut + 1).trim()]
    if (cut < 1 || (pointer !== 'key' && !pointer.startsWith('/')))
      return { wants: "/pointer=field, key=field, /pointer=[parts] such as [{ text: 'mqtt:' }, topic], or /pointer=" }
    if (list > 0) return { value: { pointer, parts: held } }
    if (held === '') return { value: { pointer, field: null } }
    if (isField(held)) return { value: { pointer, field: held } }
    const near = nearest(held, FIELDS)
    return { wants: `a field after =, one of ${FIELDS.join(', ')}${near ? ` (did you mean ${near}?)` : ''}` }
  },
}
