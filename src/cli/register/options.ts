import { path, text } from '../program/kinds.ts'
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
