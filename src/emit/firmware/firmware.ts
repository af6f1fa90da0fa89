import { willSeconds } from '../../protocol/last-will.ts'
import { type HeaderFacts, headerFacts } from '../../register/revision.ts'
import type { Opening, Register } from '../../register/types.ts'
import { cComment, cString } from './c-text.ts'
import { payloadFormat } from './printf-payload.ts'
import { macroOf } from './private-header.ts'

/** One generated file. */
export interface EmittedFile {
  readonly name: string
  readonly text: string
}

/** Header of one contact: `w07.h`. Its text depends on nothing but the facts that its revision is made of, and the name. */
export function firmwareHeader(opening: Opening, register: Register): EmittedFile {
  const { sender, revision } = opening
  const facts = headerFacts(opening, register.broker)
  const name = macroOf(opening.mark)
  const guard = `SASHTALLY_${name}_H`
  const lines = [
    `/* ${opening.mark}, ${cComment(opening.name)}: generated from the register, revision ${revision}. Do not edit.`,
    diagram(opening),
    ' *',
    ' * Before power comes on: take the cell out. A bench supply or an adapter beside a cell charges it, and it can leak,',
    ' * burn or burst. 5 V on a 3.3 V module destroys it.',
    ' */',
    `#ifndef ${guard}`,
    `#define ${guard}`,
    '',
    '/* Each contact has an account of its own; the user name is the client id. */',
    '#include "private.h"',
    `#ifdef PRIVATE_PASSWORD_${name}`,
    `#define CONTACT_PASSWORD PRIVATE_PASSWORD_${name}`,
    '#endif',
    '',
    `#define CONTACT_REVISION ${cString(revision)}`,
    `#define CONTACT_MARK ${cString(facts.mark)}`,
    `#define CONTACT_CLIENT_ID ${cString(facts.client)}`,
    `#define CONTACT_TOPIC ${cString(facts.topic)}`,
    '',
    '/* The word for an opening, and whether the broker keeps it. */',
    `#define CONTACT_WORD_OPENED ${cString(facts.words.opened)}`,
    ...(facts.words.closed === undefined ? [] : [`#define CONTACT_WORD_CLOSED ${cString(facts.words.closed)}`]),
    `#define CONTACT_REPORTS_BOTH ${facts.words.closed === undefined ? 0 : 1}`,
    `#define CONTACT_QOS ${facts.qos}`,
    `#define CONTACT_RETAIN ${facts.retain ? 1 : 0}`,
    '',
    '/* The last will: same topic, always retained. */',
    `#define CONTACT_WILL_WORD ${cString(facts.will.word)}`,
    `#define CONTACT_WILL_QOS ${facts.qos}`,
    '#define CONTACT_WILL_RETAIN 1',
    `#define CONTACT_KEEP_ALIVE_SECONDS ${facts.keepAliveSeconds}`,
    ...(facts.repeatSeconds === undefined ? [] : [`#define CONTACT_REPEAT_SECONDS ${facts.repeatSeconds}`]),
    '',
    ...brokerLines(facts),
    ...payloadLines(sender, revision),
    ...wifiLines(facts.wifi),
    '#endif',
    '',
  ]
  return { name: `${opening.mark.toLowerCase()}.h`, text: lines.join('\n') }
}

const hostText = ({ host }: { readonly host: string }): string => cString(host.replace(/^\[|\]$/g, ''))

function brokerLines({ broker, nodes }: HeaderFacts): string[] {
  if (!broker) return ['/* The register gives no broker address: set it in private.h. */', '']
  return [
    `#define CONTACT_BROKER_HOST ${hostText(broker)}`,
    `#define CONTACT_BROKER_PORT ${broker.port}`,
    `#define CONTACT_BROKER_TLS ${broker.tls ? 1 : 0}`,
    ...(nodes ? nodeLines([broker, ...nodes]) : []),
    '',
  ]
}

function nodeLines(nodes: readonly { readonly host: string; readonly port: number }[]): string[] {
  return [
    '/* The broker is a cluster: where a node does not answer the contact tries the next, and keeps which one did. */',
    `#define CONTACT_BROKER_COUNT ${nodes.length}`,
    `#define CONTACT_BROKER_HOSTS { ${nodes.map(hostText).join(', ')} }`,
    `#define CONTACT_BROKER_PORTS { ${nodes.map(({ port }) => port).join(', ')} }`,
  ]
}

/** Figures of a payload: what each is called in C, and what it says. */
const FIGURES = {
  boots: ['boots', 'unsigned long boots: counted in flash, one more at every start, before anything else.'],
  millivolts: ['millivolts', 'unsigned int millivolts: the lowest under load since the start.'],
  joinMilliseconds: [
    'join_milliseconds',
    'unsigned long join_milliseconds: from the start until the word is ready to be sent.',
  ],
} as const

function payloadLines({ json, words }: Opening['sender'], revision: string): string[] {
  if (!json) return ['#define CONTACT_PAYLOAD_JSON 0', '']
  const opened = payloadFormat(json, words.opened, revision)
  const closed = words.closed === undefined ? undefined : payloadFormat(json, words.closed, revision)
  return [
    '/* JSON payloads: snprintf(bytes, size, CONTACT_PAYLOAD_OPENED_FORMAT CONTACT_PAYLOAD_FIGURES)',
    ...opened.figures.map(figure => ` * ${FIGURES[figure][1]}`),
    ' */',
    '#define CONTACT_PAYLOAD_JSON 1',
    `#define CONTACT_PAYLOAD_OPENED_FORMAT ${cString(opened.format)}`,
    ...(closed ? [`#define CONTACT_PAYLOAD_CLOSED_FORMAT ${cString(closed.format)}`] : []),
    `#define CONTACT_PAYLOAD_FIGURES${opened.figures.map(figure => ` , ${FIGURES[figure][0]}`).join('')}`,
    `#define CONTACT_PAYLOAD_HAS_BOOTS ${json.boots === undefined ? 0 : 1}`,
    '',
  ]
}

function wifiLines(wifi: Opening['wifi']): string[] {
  const { name, channel, bssid, address } = wifi ?? {}
  const bytes = bssid?.split(/[:-]/).map(part => `0x${part.toLowerCase()}`)
  return [
    ...(name === undefined
      ? [
          '/* The register names no network: private.h does. */',
          '#ifdef PRIVATE_WIFI_NAME',
          '#define CONTACT_WIFI_NAME PRIVATE_WIFI_NAME',
          '#endif',
        ]
      : [`#define CONTACT_WIFI_NAME ${cString(name)}`]),
    ...(bytes || channel !== undefined || address !== undefined
      ? [
          '/* A known channel, access point and address join fastest. The day the router changes its channel they are wrong:',
          ' * when the fast join has not answered in time, join slowly (scan, ask for an address) and publish all the same.',
          ' */',
        ]
      : []),
    ...(channel === undefined ? [] : [`#define CONTACT_WIFI_CHANNEL ${channel}`]),
    ...(bytes ? [`#define CONTACT_WIFI_BSSID { ${bytes.join(', ')} }`] : []),
    ...(address === undefined
      ? []
      : [
          `#define CONTACT_WIFI_ADDRESS ${cString(address)}`,
          `#define CONTACT_WIFI_ADDRESS_BYTES { ${address.split('.').join(', ')} }`,
        ]),
    '',
  ]
}

function diagram({ sender, settings }: Opening): string {
  const wait = willSeconds(sender.keepAliveSeconds)
  const acknowledged = sender.qos === 0 ? 'sent' : 'acknowledged by the broker'
  if (sender.reports === 'both') {
    return ` *
 * What the firmware must do:
 *
 *   power on -> join -> connect (client id, will, keep-alive) -> publish the present edge, retained
 *                            ^                                      |
 *                            |  lost                                v
 *                            +-------------------------- stay connected, publish each edge, retained
 *
 *   The broker publishes the will, retained, ${wait} s after the contact fell silent.`
  }
  return ` *
 * What the firmware must do:
 *
 *   reed closes -> boot -> join -> connect (client id, will, keep-alive) -> publish the word, not retained
 *                                                                              |
 *                                                                              v  ${acknowledged}
 *                         window shut, power gone  <-  deep sleep, the socket left open, NO DISCONNECT
 *
 *   The broker publishes the will, retained, ${wait} s after the last packet or up to 6 s later: it says that
 *   the contact fell silent, never that the window is shut. A DISCONNECT would discard the will (MQTT-3.1.2-8).${
   settings.repeatSeconds === undefined
     ? ''
     : `\n *   Wake every ${settings.repeatSeconds} s and publish the word again.`
 }`
}
