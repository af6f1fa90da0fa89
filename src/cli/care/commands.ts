import { define } from '../program/command.ts'
import { path } from '../program/kinds.ts'
import { flag, inputFile, option } from '../program/option.ts'
import { dataOption } from '../store/options.ts'

export const exporting = define({
  name: 'export',
  summary: 'Write every entry of the tally, or a copy of the whole store, also while the keeper runs.',
  args: { file: inputFile },
  options: {
    ...dataOption("the keeper's folder"),
    jsonl: flag({ text: 'one entry a line as JSON: what --tally reads (the default)' }),
    csv: flag({ text: 'a table for a spreadsheet, with local times and names' }),
    out: option(path, { value: 'file', text: 'write to a file instead of the screen' }),
    backup: option(path, {
      value: 'file',
      text: 'instead, a consistent copy of the store itself; put back as tally.sqlite',
    }),
  },
  examples: [
    'sashtally export examples/ropewalk.yaml --data /var/lib/sashtally --csv --out tally.csv',
    'sashtally export examples/ropewalk.yaml --data /var/lib/sashtally --backup tally.backup.sqlite',
  ],
})

export const importing = define({
  name: 'import',
  summary: 'Take entries from a file that export wrote (or any tally file) into the keeper’s folder.',
  args: { file: inputFile, entries: inputFile },
  options: dataOption("the keeper's folder; the keeper must be stopped"),
  examples: ['sashtally import examples/ropewalk.yaml tally.jsonl --data /var/lib/sashtally'],
  next: 'sashtally forecast, with what was learned',
})

export const mend = define({
  name: 'mend',
  summary: 'Check the store; where it is damaged, save it as it is and make a sound one from what can be read.',
  args: {},
  options: {
    ...dataOption("the keeper's folder; the keeper must be stopped"),
    backups: option(path, {
      value: 'dir',
      text: 'put the last good copy of keep --backups together with what can be read; alone it begins a store on a new machine',
    }),
  },
  examples: [
    'sashtally mend --data /var/lib/sashtally',
    'sashtally mend --data /var/lib/sashtally --backups /mnt/backups/ropewalk',
  ],
  next: 'sashtally keep or sashtally serve begins on it',
})
