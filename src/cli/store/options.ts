import { path } from '../program/kinds.ts'
import { option, required } from '../program/option.ts'

/** The options of a command that works on a tally. */
export const TALLY_OPTIONS = {
  tally: option(path, { value: 'file', text: 'the tally: one entry a line' }),
  data: option(path, { value: 'dir', text: "the keeper's folder, in place of --tally" }),
}

/** The option of a command that works on the keeper's folder alone. */
export const dataOption = (text: string) => ({ data: required(path, { value: 'dir', text }) })
