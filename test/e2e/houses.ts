/** A small house whose coin cells keep alive for 2 s, so that a test need not wait long. */
export const smallHouse = (broker: { mqttUrl: string; websocketUrl: string }): string => `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${broker.mqttUrl}', websocket: '${broker.websocketUrl}' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 2 }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }, bounceSeconds: 1 }
openings:
  - { mark: W01, name: 'Dye room, west sash', sender: coin, at: { side: south, floor: 0, along: 0.1 } }
  - { mark: W02, name: 'Dye room, south', sender: coin, at: { side: south, floor: 0, along: 0.3 } }
  - { mark: W03, name: '<img src=x onerror=alert(1)>', sender: coin, at: { side: south, floor: 1, along: 0.3 } }
  - { mark: D01, name: Street door, kind: door, sender: yard, at: { side: south, floor: 0, along: 0.6 } }
`

/** A house of many doors that report both edges. */
export const largeHouse = (broker: { mqttUrl: string; websocketUrl: string }, many: number): string => `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${broker.mqttUrl}', websocket: '${broker.websocketUrl}' }
tally: ropewalk/tally
senders:
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
${Array.from({ length: many }, (_, index) => `  - { mark: D${index}, name: Door ${index}, sender: yard }`).join('\n')}
`
