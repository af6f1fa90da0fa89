import { accessList } from './broker/access.ts'
import { firmwareHeader } from './firmware/firmware.ts'
import { hub } from './hub/hub.ts'
import { labelPage } from './paper/labels.ts'
import { scheduleHtml } from './paper/schedule.ts'
import { asyncapi } from './standards/asyncapi.ts'

/** What the register can be turned into, by the name it has on the command line. */
export const EMITTERS = {
  asyncapi: {
    makes: 'an AsyncAPI document of the contacts: topic, client id, keep-alive and last will of each',
    emit: asyncapi,
  },
  hub: {
    makes: 'YAML entries for your own hub, as a profile or an entry written by hand says',
    emit: hub,
  },
  firmware: { makes: 'one C header a contact: what is flashed into its module', emit: firmwareHeader },
  access: { makes: 'the broker’s access list, and accounts with passwords that are shown once', emit: accessList },
  labels: {
    makes: 'labels to print: mark, name, client id, QR code of the mark, cell, date and cautions',
    emit: labelPage,
  },
  schedule: { makes: 'the window schedule of the drawing set, as a page or as CSV', emit: scheduleHtml },
} as const satisfies Record<string, { makes: string; emit(...given: never[]): unknown }>
export type EmitterName = keyof typeof EMITTERS
