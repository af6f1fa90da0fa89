import { isIP } from 'node:net'
import { SAYABLE } from '../../protocol/whats.ts'
import { define } from '../program/command.ts'
import { type Kind, number, oneOf, path, text } from '../program/kinds.ts'
import { moment } from '../program/moment.ts'
import { argument, flag, inputFile, list, option, optionalFile } from '../program/option.ts'
import { dataOption, TALLY_OPTIONS } from '../store/options.ts'
import { LOG_FORMS } from './log-forms.ts'

/** What every keeper takes. */
const KEEPER_OPTIONS = {
  ...dataOption('folder of the tally; made when it is not there'),
  backups: option(path, { value: 'dir', text: 'once a day a copy of the tally goes here, read back and checked' }),
  keep: option(number({ least: 1, most: 10_000, isWhole: true }), {
    value: 'number',
    text: 'with --backups: how many stay',
    fallback: '14',
  }),
  beginAnew: flag({ text: 'begin a new tally although the broker holds readings of an older one' }),
  homie: flag({
    text: 'also tell of the house as devices of the Homie convention 5, for hubs that find them by themselves',
  }),
  log: option(oneOf(LOG_FORMS), {
    value: 'form',
    text: 'text for a person, or json: one object a line with time, level, code and text',
    fallback: 'text',
  }),
}

/** In place of one register. */
const HOUSES_OPTION = {
  houses: option(path, {
    value: 'dir',
    text: 'in place of a file: a keeper for each *.yaml and *.yml in this folder; --data and --backups then hold a folder for each, named as its register',
  }),
}

export const keep = define({
  name: 'keep',
  summary: 'Keep the tally of a house, or of many: every word for good, readings and plain words for walls and hubs.',
  args: { file: optionalFile },
  options: {
    ...KEEPER_OPTIONS,
    ...HOUSES_OPTION,
    giveRestWords: flag({
      text: "once, after the broker was rebuilt: publish the sleeping contacts' rest words, retained (needs an account that may)",
    }),
  },
  examples: [
    'sashtally keep examples/ropewalk.yaml --data /var/lib/sashtally',
    'sashtally keep examples/ropewalk.yaml --data /var/lib/sashtally --backups /mnt/backups/ropewalk',
    'sashtally keep --houses examples/studios --data /var/lib/sashtally',
  ],
  next: 'sashtally tally FILE says what may be open; sashtally serve gives a wall too',
  account: 'keeper',
})

const hostAddress: Kind<string> = {
  read: given =>
    given === 'localhost' || isIP(given) !== 0 ? { value: given } : { wants: 'an address such as 0.0.0.0' },
}

const ipAddress: Kind<string> = {
  read: given => (isIP(given) === 0 ? { wants: 'an address such as 192.168.1.20' } : { value: given }),
}

export const serve = define({
  name: 'serve',
  summary:
    'Keeper and wall page in one process, for a house or for many, and if you like a broker for trying things out.',
  args: { file: optionalFile },
  options: {
    ...KEEPER_OPTIONS,
    ...HOUSES_OPTION,
    port: option(number({ most: 65_535, isWhole: true }), {
      value: 'number',
      text: 'port of the page; 0 takes any',
      fallback: '8080',
    }),
    host: option(hostAddress, {
      value: 'address',
      text: 'address to listen on; any beyond this machine needs accounts',
      fallback: '127.0.0.1',
    }),
    name: list(text, {
      value: 'host...',
      text: 'host names under which the page may be asked for, beside plain addresses',
    }),
    metricsFor: list(ipAddress, {
      value: 'address...',
      text: 'addresses that may read /metrics, beside this machine; everybody who may see the page may ask /healthz',
    }),
    broker: flag({
      text: "also run a broker, at the ports of the register's addresses; it keeps nothing on disk",
    }),
    accounts: option(path, {
      value: 'file',
      text: 'with --broker: its accounts, as emit access --accounts writes them',
    }),
    tlsCert: option(path, {
      value: 'file',
      text: 'certificate (PEM) of the page, and of the broker with --broker',
    }),
    tlsKey: option(path, { value: 'file', text: 'its key (PEM)' }),
    maySay: flag({ text: 'people may say at this wall what they saw' }),
  },
  examples: [
    'sashtally serve examples/ropewalk.yaml --data /var/lib/sashtally',
    'sashtally serve examples/ropewalk.yaml --data tally --broker --may-say',
    'sashtally serve --houses examples/studios --data /var/lib/sashtally',
  ],
  next: 'open its address on the tablet; sashtally manual wall',
  account: 'keeper',
})

export const say = define({
  name: 'say',
  summary: `Tell the keeper what you saw or did: ${SAYABLE.join(', ')}. The mark "all" says it of every opening.`,
  args: { file: inputFile, mark: { ...argument(), others: ['all'] }, what: argument(oneOf(SAYABLE)) },
  options: {
    at: option(moment, {
      value: 'time',
      text: "when it was so: 17:50, 'Fri 09:00', '2026-05-01 09:00'; default: now",
    }),
    by: option(text, { value: 'name', text: 'who says it' }),
    note: option(text, { value: 'text', text: 'a few words' }),
    cell: option(text, { value: 'type', text: 'cell-fitted: its type; default: the one in the register' }),
    batch: option(text, { value: 'text', text: 'cell-fitted: its batch' }),
    millivolts: option(number({ most: 99_999, isWhole: true }), {
      value: 'number',
      text: 'cell-fitted: its volts at rest before it went in, in millivolts',
    }),
    revision: option(text, {
      value: 'hex',
      text: 'flashed: the revision in the header; default: the one that the register gives now',
    }),
    undoes: option(text, {
      value: 'id',
      text: 'undone: the id of what is taken back; with "all" that of all that was said at once',
    }),
    minutes: option(number({ most: 1_440 }), {
      value: 'minutes',
      text: 'on-test: for how long its words count nothing; 0 ends the test; default: 10',
    }),
    tally: option(path, { value: 'file', text: 'without a keeper: add it to this tally file' }),
    data: option(path, { value: 'dir', text: 'with the keeper stopped: add it to its folder' }),
  },
  examples: [
    'sashtally say examples/ropewalk.yaml W07 cell-fitted --millivolts 3210',
    "sashtally say examples/ropewalk.yaml W02 seen-closed --at 'Fri 17:50' --by Ada",
    'sashtally say examples/ropewalk.yaml all seen-closed',
  ],
  account: 'hand, or bench',
})

export const tally = define({
  name: 'tally',
  summary:
    'Say what may be open now, and what opened while you were away. Without a folder or file it asks the keeper, over the broker.',
  args: { file: inputFile },
  options: {
    ...TALLY_OPTIONS,
    since: option(moment, {
      value: 'time',
      text: "only what opened since: 'Fri 09:00', 09:00, 2026-05-01, in the house's time zone",
    }),
    json: flag({ text: 'print the readings as JSON' }),
  },
  examples: [
    'sashtally tally examples/ropewalk.yaml',
    'sashtally tally examples/ropewalk.yaml --data /var/lib/sashtally',
    "sashtally tally examples/ropewalk.yaml --data /var/lib/sashtally --since 'Fri 09:00'",
  ],
  next: 'sashtally round tests what is untested',
  account: 'onlooker, hand or bench; with --data none',
})
