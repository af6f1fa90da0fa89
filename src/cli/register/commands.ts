import { CONTACT_PORTS, type ContactPort } from '../../emit/firmware/ports.ts'
import { WIRES } from '../../emit/hub/field-names.ts'
import { LABEL_GRID, PAPER_SIZES } from '../../emit/paper/label-grid.ts'
import { DESCRIBED } from '../json/described.ts'
import { define } from '../program/command.ts'
import { type Kind, number, oneOf, path, text } from '../program/kinds.ts'
import { flag, inputFile, list, option, optionalFile } from '../program/option.ts'
import { TALLY_OPTIONS } from '../store/options.ts'
import { ACCOUNT_OPTIONS, checkFiles, DELIVERY_OPTIONS, fill, housesOption, outFolder } from './options.ts'

export const check = define({
  name: 'check',
  summary: 'Read a register, say everything that is wrong with it, and show what is made from it.',
  args: { file: optionalFile },
  options: {
    houses: option(path, {
      value: 'dir',
      text: 'in place of a file: every *.yaml and *.yml in this folder, and what two of them both have at one broker',
    }),
    tally: option(path, {
      value: 'file',
      text: 'also list the soldered modules that hold an older header, from this tally',
    }),
    data: option(path, { value: 'dir', text: "the keeper's folder, in place of --tally" }),
    private: option(path, {
      value: 'file',
      text: 'with a tally: also list the modules that hold an older password than this private.h',
    }),
    against: option(path, {
      value: 'old',
      text: 'also list the modules that must come out when the register in OLD becomes this one',
    }),
    json: flag({ text: 'print the problems as JSON' }),
  },
  examples: [
    'sashtally check examples/ropewalk.yaml',
    'sashtally check examples/ropewalk.yaml --against examples/ropewalk.yaml',
    'sashtally check examples/ropewalk.yaml --json',
    'sashtally check --houses examples/studios',
  ],
  next: "sashtally emit broker makes the broker's accounts, sashtally emit firmware what is flashed",
})

export const asyncapi = define({
  name: 'emit asyncapi',
  summary:
    'Make an AsyncAPI document of the contacts (topic, client id, keep-alive, last will), or of the tally’s own topics.',
  args: { file: inputFile },
  options: {
    of: option(oneOf(['contacts', 'tally']), { value: 'what', text: 'what is described', fallback: 'contacts' }),
    ...DELIVERY_OPTIONS,
  },
  examples: [
    'sashtally emit asyncapi examples/ropewalk.yaml --out contacts.asyncapi.yaml',
    'sashtally emit asyncapi examples/ropewalk.yaml --of tally --out tally.asyncapi.yaml',
  ],
})

export const schema = define({
  name: 'emit schema',
  summary:
    'Make the JSON Schema of a register, by which an editor checks it and says the rule of each key, or of what a command prints with --json.',
  args: {},
  options: {
    of: option(oneOf(['register', ...DESCRIBED]), {
      value: 'what',
      text: 'what is described: the register, a line of a tally file or of a log, or what the command of that name prints with --json',
      fallback: 'register',
    }),
    ...DELIVERY_OPTIONS,
  },
  examples: ['sashtally emit schema --out register.schema.json', 'sashtally emit schema --of forecast'],
})

export const things = define({
  name: 'emit things',
  summary: 'Make W3C Thing Descriptions, one an opening, for any tool that reads them.',
  args: { file: inputFile },
  options: DELIVERY_OPTIONS,
  examples: ['sashtally emit things examples/ropewalk.yaml --out ropewalk.td.json'],
})

export const calendar = define({
  name: 'emit calendar',
  summary: 'Make an iCalendar file with a day for each cell that is due, as the tally has it.',
  args: { file: inputFile },
  options: { ...TALLY_OPTIONS, ...DELIVERY_OPTIONS },
  examples: [
    'sashtally emit calendar examples/ropewalk.yaml --tally tally.jsonl --out cells.ics',
    'sashtally emit calendar examples/ropewalk.yaml --data /var/lib/sashtally --out cells.ics',
  ],
})

export const hub = define({
  name: 'emit hub',
  summary: 'Make YAML entries for your own hub, as a profile or an entry written by hand says.',
  args: { file: inputFile },
  options: {
    into: option(path, {
      short: 'i',
      value: 'file',
      text: "put the entries into the hub's file, between two marker comments that keep the profile; alone: make them again",
    }),
    like: option(path, {
      short: 'l',
      value: 'file',
      text: "the hub's file with one entry written by hand; the profile is learned from it",
    }),
    mark: option(text, {
      short: 'm',
      value: 'mark',
      text: 'the opening whose entry was written by hand, with --like',
    }),
    fill: list(fill, {
      short: 'f',
      value: 'pair',
      text: "settle what stands at a place: /pointer=field, key=field, /pointer=[{ text: 'mqtt:' }, topic], or /pointer= to keep the value as it is; again for each",
    }),
    profile: option(path, {
      short: 'p',
      value: 'file',
      text: 'the profile that says how this hub wants an entry, instead of --like',
    }),
    saveProfile: option(path, { value: 'file', text: 'write the profile that --like learned to this file' }),
    wire: option(oneOf(WIRES), {
      short: 'w',
      value: 'to',
      text: "what the hub listens to: each contact's own topic, or the tally's plain word; else as before, at first the contact",
    }),
    takeOver: flag({ text: 'move entries written by hand into the block, where the made ones are the same' }),
    ...DELIVERY_OPTIONS,
  },
  examples: [
    'sashtally emit hub examples/ropewalk.yaml --like examples/bellframe.hub.yaml --mark W01 --into hub.yaml',
    'sashtally emit hub examples/ropewalk.yaml --into hub.yaml --wire tally',
    'sashtally emit hub examples/ropewalk.yaml --profile examples/teasel.profile.yaml',
    'sashtally emit hub examples/ropewalk.yaml --like examples/bellframe.hub.yaml --mark W01 --fill /pull/care=qos --save-profile hub.profile.yaml',
  ],
  next: 'let the hub read its file again, and open a window',
})

export const firmware = define({
  name: 'emit firmware',
  summary: 'Make one C header a contact, and the contact program in C99: what is flashed into a module.',
  args: { file: inputFile },
  options: {
    out: outFolder,
    mark: option(text, { short: 'm', value: 'mark', text: 'only the header of this contact' }),
    port: option(oneOf(Object.keys(CONTACT_PORTS) as ContactPort[]), {
      value: 'name',
      text: 'also a port of the contact program: one for the desk, or a skeleton to write your own from',
    }),
    check: checkFiles,
  },
  examples: [
    'sashtally emit firmware examples/ropewalk.yaml --out firmware',
    'sashtally emit firmware examples/ropewalk.yaml --mark W07 --port posix --out firmware',
  ],
  next: "sashtally emit broker with --private fills in the contacts' passwords; flash it with the cell out, then sashtally prove",
})

const absoluteFolder: Kind<string> = {
  read: given =>
    given.startsWith('/') && !/\p{C}/u.test(given) ? { value: given } : { wants: 'the absolute path of a folder' },
}

export const broker = define({
  name: 'emit broker',
  summary: 'Make settings, access list and accounts of the broker mosquitto as one set that fits together.',
  args: { file: optionalFile },
  options: {
    houses: housesOption,
    out: outFolder,
    place: option(absoluteFolder, {
      value: 'folder',
      text: 'where they will stand on the broker’s machine; default: the folder of --out',
    }),
    check: checkFiles,
    ...ACCOUNT_OPTIONS,
  },
  examples: [
    'sashtally emit broker examples/ropewalk.yaml --out broker --place /etc/mosquitto',
    'sashtally emit broker examples/ropewalk.yaml --out broker --place /etc/mosquitto --accounts broker/house.passwords --private firmware/private.h',
    'sashtally emit broker --houses examples/studios --out broker --accounts broker/house.passwords --private firmware',
  ],
  next: 'sashtally serve or sashtally keep, with the account keeper',
})

export const access = define({
  name: 'emit access',
  summary: 'Make the access list alone, for a broker that has settings already, and its accounts.',
  args: { file: optionalFile },
  options: { houses: housesOption, ...DELIVERY_OPTIONS, ...ACCOUNT_OPTIONS },
  examples: [
    'sashtally emit access examples/ropewalk.yaml --out ropewalk.access',
    'sashtally emit access examples/ropewalk.yaml --out ropewalk.access --accounts ropewalk.passwords --private firmware/private.h',
  ],
})

const labelCount = number({ least: 1, isWhole: true })

export const labels = define({
  name: 'emit labels',
  summary: 'Make labels to print: mark, name, client id, QR code of the mark, cell, date and cautions.',
  args: { file: inputFile },
  options: {
    ...DELIVERY_OPTIONS,
    paper: option(oneOf(PAPER_SIZES), { value: 'size', text: 'sheet to print on', fallback: LABEL_GRID.paper }),
    columns: option(labelCount, { value: 'number', text: 'labels across', fallback: String(LABEL_GRID.columns) }),
    rows: option(labelCount, { value: 'number', text: 'labels down', fallback: String(LABEL_GRID.rows) }),
    svg: flag({ text: 'one sheet as SVG instead of a page; see --sheet' }),
    sheet: option(labelCount, { value: 'number', text: 'which sheet --svg makes, from 1', fallback: '1' }),
  },
  examples: [
    'sashtally emit labels examples/ropewalk.yaml --out labels.html',
    'sashtally emit labels examples/ropewalk.yaml --paper letter --columns 2 --rows 6 --out labels.html',
  ],
  next: 'print the page at full size, without fitting it to the paper',
})

export const schedule = define({
  name: 'emit schedule',
  summary: 'Make the window schedule of the drawing set, as a page or as CSV.',
  args: { file: inputFile },
  options: { ...DELIVERY_OPTIONS, csv: flag({ text: 'comma-separated values (RFC 4180) instead of a page' }) },
  examples: [
    'sashtally emit schedule examples/ropewalk.yaml --out schedule.html',
    'sashtally emit schedule examples/ropewalk.yaml --csv --out schedule.csv',
  ],
})
