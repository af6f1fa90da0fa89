import { FIELDS, type Field, isField } from '../../emit/hub/fields.ts'
import { nearest } from '../../text/nearest.ts'
import type { Kind } from '../program/kinds.ts'

/** What settles a pointer that `--like` leaves open: a field, or `null` to keep the value as it is. */
export interface Fill {
  readonly pointer: string
  readonly field: Field | null
}

/** `/pointer=field`, `key=field` or `/pointer=`. */
export const fill: Kind<Fill> = {
  read: given => {
    const cut = given.lastIndexOf('=')
    const [pointer, field] = [given.slice(0, cut), given.slice(cut + 1)]
    if (cut < 1 || (pointer !== 'key' && !pointer.startsWith('/')))
      return { wants: '/pointer=field, key=field or /pointer=' }
    if (field === '') return { value: { pointer, field: null } }
    if (isField(field)) return { value: { pointer, field } }
    const near = nearest(field, FIELDS)
    return { wants: `a field after =, one of ${FIELDS.join(', ')}${near ? ` (did you mean ${near}?)` : ''}` }
  },
}
