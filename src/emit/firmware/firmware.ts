import { headerFacts } from '../../register/revision.ts'
import type { Opening, Register } from '../../register/types.ts'
import { cComment, cString } from './c-text.ts'
import { payloadFormat } from './printf-payload.ts'

/** One generated file. */
export interface EmittedFile {
  readonly name: string
  readonly text: string
}

/** Header of one contact: `w07.h`. Its text depends on nothing but the facts that its revision is made of, and the name. */
export function firmwareHeader(opening: Opening, register: Register): EmittedFile {
  const { sender, revision } = opening
  const facts = headerFacts(opening, register.broker)
  const guard = `SASHTALLY_${opening.mark.toUpperCase().replaceAll('-', '_')}_H`
  const lines = [
    `/* ${opening.mark}, ${cComment(opening.name)}: generated from the register, revision ${revision}. Do not edit.`,
    diagram(opening),
    ' */',
    `#ifndef ${guard}`,
    `#define ${guard}`,
    '',
    '/* Each contact has an account of its own: secrets.h may tell them apart by this. */',
    `#define CONTACT_IS_${opening.mark.toUpperCase().replaceAll('-', '_')} 1`,
    '#include "secrets.h"',
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
    ...brokerLines(facts.broker),
    ...payloadLines(sender, revision),
    ...wifiLines(facts.wifi),
    '#endif',
    '',
  ]
  return { name: `${opening.mark.toLowerCase()}.h`, text: lines.join('\n') }
}

function brokerLines(broker: ReturnType<typeof headerFacts>['broker']): string[] {
  if (!broker) return ['/* The register gives no broker address: set it in secrets.h. */', '']
  return [
    `#define CONTACT_BROKER_HOST ${cString(broker.host.replace(/^\[|\]$/g, ''))}`,
    `#define CONTACT_BROKER_PORT ${broker.port}`,
    `#define CONTACT_BROKER_TLS ${broker.tls ? 1 : 0}`,
    '',
  ]
}

function payloadLines({ json, words }: Opening['sender'], revision: string): string[] {
  if (!json) return ['#define CONTACT_PAYLOAD_JSON 0', '']
  const opened = payloadFormat(json, words.opened, revision)
  const closed = words.closed === undefined ? undefined : payloadFormat(json, words.closed, revision)
  const args = opened.args.map(arg => (arg === 'boots' ? 'unsigned long boots' : 'unsigned int millivolts')).join(', ')
  return [
    '/* JSON payloads for snprintf.',
    ` * Arguments in order: ${args || 'none'}.`,
    ...(json.boots === undefined ? [] : [' * boots: count in flash, one more at every start, before anything else.']),
    ' */',
    '#define CONTACT_PAYLOAD_JSON 1',
    `#define CONTACT_PAYLOAD_OPENED_FORMAT ${cString(opened.format)}`,
    ...(closed ? [`#define CONTACT_PAYLOAD_CLOSED_FORMAT ${cString(closed.format)}`] : []),
    `#define CONTACT_PAYLOAD_HAS_BOOTS ${json.boots === undefined ? 0 : 1}`,
    `#define CONTACT_PAYLOAD_HAS_MILLIVOLTS ${json.millivolts === undefined ? 0 : 1}`,
    '',
  ]
}

function wifiLines(wifi: Opening['wifi']): string[] {
  if (!wifi) return ['#define CONTACT_WIFI_KNOWN 0', '']
  const bytes = wifi.bssid?.split(/[:-]/).map(part => `0x${part.toLowerCase()}`)
  return [
    '/* A known channel, access point and address join fastest. The day the router changes its channel they are wrong:',
    ' * when the fast join has not answered in time, join slowly (scan, ask for an address) and publish all the same.',
    ' */',
    '#define CONTACT_WIFI_KNOWN 1',
    ...(wifi.channel === undefined ? [] : [`#define CONTACT_WIFI_CHANNEL ${wifi.channel}`]),
    ...(bytes ? [`#define CONTACT_WIFI_BSSID { ${bytes.join(', ')} }`] : []),
    ...(wifi.address === undefined ? [] : [`#define CONTACT_WIFI_ADDRESS ${cString(wifi.address)}`]),
    '',
  ]
}

function diagram({ sender, settings }: Opening): string {
  const wait = 1.5 * sender.keepAliveSeconds
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
 *   The broker publishes the will, retained, ${wait} s after the last packet: it says that the contact fell
 *   silent, never that the window is shut. A DISCONNECT would discard the will (MQTT-3.1.2-8).${
   settings.repeatSeconds === undefined
     ? ''
     : `\n *   Wake every ${settings.repeatSeconds} s and publish the word again.`
 }`
}

/** Written once, never over a file that is there. No secret is in it. */
export const SECRETS_TEMPLATE: EmittedFile = {
  name: 'secrets.h',
  text: `/* What only your modules may know. This file is yours: it is never written over. Keep it out of version control,
 * and erase a module's flash before it leaves the house.
 */
#ifndef SASHTALLY_SECRETS_H
#define SASHTALLY_SECRETS_H

/* #define SECRET_WIFI_NAME "the name of your network" */
/* #define SECRET_WIFI_PASSWORD "its password" */

/* Each contact has an account of its own at the broker; its user name is CONTACT_CLIENT_ID. */
/* #if defined(CONTACT_IS_W01) */
/* #define SECRET_BROKER_PASSWORD "as shown once for W01" */
/* #elif defined(CONTACT_IS_W02) */
/* #define SECRET_BROKER_PASSWORD "as shown once for W02" */
/* #endif */

/* Only where the register names no broker: */
/* #define CONTACT_BROKER_HOST "broker.lan" */
/* #define CONTACT_BROKER_PORT 1883 */
/* #define CONTACT_BROKER_TLS 0 */

/* With a fixed address: */
/* #define SECRET_GATEWAY "192.168.1.1" */
/* #define SECRET_NETMASK "255.255.255.0" */

/* With TLS: the certificate that signed your broker's. */
/* #define SECRET_BROKER_CA "-----BEGIN CERTIFICATE-----\\n..." */

#endif
`,
}
