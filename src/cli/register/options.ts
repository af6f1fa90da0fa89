import { FIELDS, type Field, isField } from '../../emit/hub/field-names.ts'
import { nearest } from '../../text/nearest.ts'
import { type Kind, path, text } from '../program/kinds.ts'
import { flag, list, option, required } from '../program/option.ts'

/** Where a made text goes. */
export const DELIVERY_OPTIONS = {
  out: option(path, { short: 'o', value: 'file', text: 'write to this file instead of standard output' }),
  check: flag({ text: 'write nothing; print a unified diff and exit 1 when the file is out of date' }),
}

/** Where several made files go. */
export const outFolder = required(path, {
  short: 'o',
  value: 'folder',
  text: 'folder for the files; made when missing',
})
export const checkFiles = flag({ text: 'write nothing; print a unified diff and exit 1 when a file is out of date' })

export const ACCOUNT_OPTIONS = {
  accounts: option(path, {
    value: 'file',
    text: 'the broker’s password file: accounts that it lacks are made, each password is shown once (see --private) and kept as a hash only',
  }),
  private: option(path, {
    value: 'file',
    text: 'with --accounts: fill the contacts’ passwords into this private.h instead of showing them',
  }),
  renew: list(text, { value: 'user...', text: 'with --accounts: give these accounts a new password' }),
}

/** In place of one register. */
export const housesOption = option(path, {
  value: 'dir',
  text: 'in place of a file: the houses of this folder, all at one broker, each with accounts of its own (NAME-keeper, NAME-hand …; that of its keeper goes into NAME.account); --private is then a folder, with NAME/private.h',
})

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
