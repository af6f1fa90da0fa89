/**
 * Read back by a reader that knows nothing but the text of the Homie convention 5.0 (CC BY 4.0): "Auto-Discovery",
 * "Topic IDs", "Payloads", "Device Attributes", "Device Lifecycle", "Formats".
 */
import { spawn } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { homieRoot } from '../../src/protocol/homie.ts'
import { listenTo } from '../support/ear.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { HOUSE } from './bench-house.ts'
import { tempFolder } from './folder.ts'

interface Property {
  readonly datatype: string
  readonly format?: string
  readonly settable?: boolean
}
interface Description {
  readonly homie: string
  readonly version: number
  readonly name?: string
  readonly root?: string
  readonly parent?: string
  readonly children?: readonly string[]
  readonly nodes?: Readonly<Record<string, { readonly properties?: Readonly<Record<string, Property>> }>>
}

const ID = /^[a-z0-9-]+$/
const STATES = ['init', 'ready', 'disconnected', 'sleeping', 'lost']

/** Whether a payload may stand on a property: "Payloads" and "Formats" of the convention. */
function isValid({ datatype, format }: Property, payload: string): boolean {
  switch (datatype) {
    case 'boolean':
      return payload === 'true' || payload === 'false'
    case 'enum':
      return (format ?? '').split(',').includes(payload)
    case 'integer': {
      if (!/^-?\d+$/.test(payload)) return false
      const [least = '', most = ''] = (format ?? ':').split(':')
      return (least === '' || Number(payload) >= Number(least)) && (most === '' || Number(payload) <= Number(most))
    }
    default:
      return false
  }
}

/** A controller: finds devices by their states, reads descriptions, follows values. */
class Controller {
  readonly topics = new Map<string, string>()
  readonly history: { topic: string; text: string }[] = []
  readonly ear

  constructor(url: string) {
    this.ear = listenTo({ url }, ['+/5/#'], ({ topic, payload }) => {
      const text = new TextDecoder().decode(payload)
      this.history.push({ topic, text })
      if (text === '') this.topics.delete(topic)
      else this.topics.set(topic, text)
    })
  }

  get devices(): string[] {
    return [...this.topics.keys()].flatMap(topic => /^homie\/5\/([^/]+)\/\$state$/.exec(topic)?.[1] ?? []).sort()
  }

  description(id: string): Description | undefined {
    const text = this.topics.get(`homie/5/${id}/$description`)
    return text === undefined ? undefined : JSON.parse(text)
  }

  /** "The state of any device should be determined as follows". */
  state(id: string): string | undefined {
    const root = this.description(id)?.root
    const own = this.topics.get(`homie/5/${id}/$state`)
    return root !== undefined && this.topics.get(`homie/5/${root}/$state`) === 'lost' ? 'lost' : own
  }

  value(id: string, property: string): string | undefined {
    return this.topics.get(`homie/5/${id}/contact/${property}`)
  }

  /** Everything that does not keep to the convention. */
  faults(): string[] {
    const faults: string[] = []
    for (const [topic, text] of this.topics) {
      const [domain, five, id = '', ...rest] = topic.split('/')
      if (domain !== 'homie' || five !== '5' || !ID.test(id)) faults.push(`${topic}: no topic of a device`)
      const description = this.description(id)
      if (rest[0] === '$state') {
        if (!STATES.includes(text)) faults.push(`${topic}: ${text}`)
      } else if (rest[0] === '$description') {
        if (!/^5\.\d+$/.test(description?.homie ?? '')) faults.push(`${topic}: homie`)
        if (!Number.isSafeInteger(description?.version)) faults.push(`${topic}: version`)
        for (const child of description?.children ?? []) {
          if (this.description(child)?.root !== id) faults.push(`${topic}: ${child} does not name it as root`)
        }
      } else {
        const [node = '', property = ''] = rest
        if (![node, property].every(each => ID.test(each))) faults.push(`${topic}: no id`)
        const described = description?.nodes?.[node]?.properties?.[property]
        if (!described) faults.push(`${topic}: is not described`)
        else if (!isValid(described, text)) faults.push(`${topic}: ${text} is no ${described.datatype}`)
        else if (described.settable) faults.push(`${topic}: settable`)
      }
    }
    return faults
  }
}

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('the house as devices of the Homie convention'), () => {
  let broker: Mosquitto
  let folder: string
  let file: string
  let controller: Controller
  const running: { interrupt(): void; done: Promise<number> }[] = []
  const write = (text: string) => writeFileSync(file, text.replace('mqtt://broker.lan:1883', broker.mqttUrl))

  beforeEach(async () => {
    broker = await Mosquitto.start()
    folder = tempFolder()
    file = join(folder, 'house.yaml')
    write(HOUSE)
    controller = new Controller(broker.mqttUrl)
    await controller.ear.listening()
  })
  afterEach(async () => {
    for (const each of running.splice(0)) {
      each.interrupt()
      await each.done
    }
    await controller.ear.feed.close()
    await broker.close()
  })

  const argv = () => ['keep', file, '--data', join(folder, 'data'), '--homie']
  function start() {
    const world = fakeWorld()
    const keeper = { world, done: cli(argv(), world), interrupt: () => world.interrupt() }
    running.push(keeper)
    return keeper
  }
  const ready = () => until('the house to be ready', () => controller.state('ropewalk-tally') === 'ready', 30)

  it('is found without any file, and every topic keeps to the convention', async () => {
    start()
    await ready()
    expect(controller.devices).toEqual(['d01', 'ropewalk-tally', 'w01', 'w02', 'w03'])
    expect(controller.description('ropewalk-tally')).toMatchObject({
      name: 'Ropewalk Studios',
      children: ['w01', 'w02', 'w03', 'd01'],
    })
    expect(controller.description('ropewalk-tally')).not.toHaveProperty('root')
    expect(Object.keys(controller.description('w01')?.nodes?.contact?.properties ?? {})).toEqual([
      'may-be-open',
      'openings',
      'left',
      'low',
    ])
    // A door on mains has no cell of which something could be left.
    expect(Object.keys(controller.description('d01')?.nodes?.contact?.properties ?? {})).toEqual([
      'may-be-open',
      'openings',
    ])
    expect(controller.faults()).toEqual([])
    await controller.ear.feed.publish('ropewalk/w01', 'opened')
    await until('the opening', () => controller.value('w01', 'may-be-open') === 'may-be-open')
    await until('its count', () => controller.value('w01', 'openings') === '1')
    expect(controller.value('w02', 'may-be-open')).toBe('not-certain')
    expect(controller.faults()).toEqual([])
  })

  it('changes a description only while its device is not ready, under a higher version, and removes what left', async () => {
    start()
    await ready()
    const before = controller.description('ropewalk-tally')!
    const other = controller.description('w01')!
    controller.history.length = 0
    write(HOUSE.replace(/ {2}- \{ mark: W02.*\n/, '').replace("name: 'Stair'", "name: 'Stair, top'"))
    await until('W02 to be gone', () => !controller.devices.includes('w02'))
    await until('the new name', () => controller.description('w03')?.name === 'W03 Stair, top')
    // The root's description comes after those of its children.
    await until('the root', () => !controller.description('ropewalk-tally')?.children?.includes('w02'))
    await ready()
    expect([...controller.topics.keys()].filter(topic => topic.includes('/w02/'))).toEqual([])
    // "1. remove the retained $state … 2. any other retained attributes or property values".
    expect(controller.history.find(({ topic }) => topic.includes('/w02/'))).toEqual({
      topic: 'homie/5/w02/$state',
      text: '',
    })
    const after = controller.description('ropewalk-tally')!
    expect(after.children).toEqual(['w01', 'w03', 'd01'])
    expect(after.version).toBeGreaterThan(before.version)
    expect(controller.description('w01')).toEqual(other)
    const states = new Map<string, string>()
    for (const { topic, text } of controller.history) {
      const id = topic.split('/')[2]!
      if (topic.endsWith('/$state')) states.set(id, text)
      if (topic.endsWith('/$description') && text !== '') expect([topic, states.get(id)]).toEqual([topic, 'init'])
    }
    expect(controller.faults()).toEqual([])
  })

  it('takes back what is no longer known of an opening: what is left in a cell that it has no more', async () => {
    start()
    await ready()
    await until('what is left', () => controller.value('w03', 'left') !== undefined)
    write(HOUSE.replace("name: 'Stair', sender: counted", "name: 'Stair', sender: yard"))
    const described = () => controller.description('w03')?.nodes?.contact?.properties ?? { left: undefined }
    await until('the new description', () => !('left' in described()))
    await ready()
    const isTakenBack = (name: string) => controller.value('w03', name) === undefined
    await until('its values to be taken back', () => isTakenBack('left') && isTakenBack('low'))
    expect(controller.faults()).toEqual([])
  })

  it('goes away on purpose, and keeps its versions over a start', async () => {
    const keeper = start()
    await ready()
    const versions = controller.devices.map(id => controller.description(id)?.version)
    keeper.interrupt()
    await keeper.done
    running.length = 0
    for (const id of controller.devices) expect([id, controller.state(id)]).toEqual([id, 'disconnected'])
    start()
    await ready()
    expect(controller.devices.map(id => controller.description(id)?.version)).toEqual(versions)
  })

  it('leaves devices of others alone, at its end too', async () => {
    const { feed } = controller.ear
    const description = JSON.stringify({ homie: '5.0', version: 1, name: 'Lamp' })
    await feed.publish('homie/5/lamp/$description', description, { qos: 1, retain: true })
    await feed.publish('homie/5/lamp/$state', 'ready', { qos: 1, retain: true })
    const keeper = start()
    await ready()
    keeper.interrupt()
    await keeper.done
    running.length = 0
    await until('its end', () => controller.state('w01') === 'disconnected')
    expect([controller.state('lamp'), controller.topics.get('homie/5/lamp/$description')]).toEqual([
      'ready',
      description,
    ])
  })

  it('of two houses with the same marks each needs a domain of its own, and the second is told so', async () => {
    start()
    await ready()
    const before = controller.description('w01')
    const annex = join(folder, 'annex.yaml')
    const house = HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl).replaceAll('ropewalk', 'annex')
    const second = (text: string) => {
      writeFileSync(annex, text)
      const world = fakeWorld()
      const argv = ['keep', annex, '--data', join(folder, 'annex'), '--homie']
      const keeper = { world, done: cli(argv, world), interrupt: () => world.interrupt() }
      running.push(keeper)
      return keeper
    }
    const refused = second(house)
    await until('the word of it', () =>
      /homie: w01 is a device of another house in the domain homie, .* a homieDomain of its own/.test(
        refused.world.said.stdout,
      ),
    )
    refused.interrupt()
    await refused.done
    expect(controller.description('w01')).toEqual(before)
    expect(controller.state('w01')).toBe('ready')
    second(house.replace('timezone:', 'homieDomain: annex\ntimezone:'))
    // "Controllers must by default perform auto-discovery on the wildcard topic +/5/+/$state".
    await until('the second house', () => controller.topics.get('annex/5/w01/$state') === 'ready')
    expect(JSON.parse(controller.topics.get('annex/5/w01/$description')!)).toMatchObject({ root: 'annex-tally' })
    expect(controller.state('w01')).toBe('ready')
    expect(controller.description('w01')).toEqual(before)
  })

  it('is lost, children too, when its keeper dies', async () => {
    const child = spawn(process.execPath, ['dist/cli/bin.js', ...argv()], { stdio: 'ignore' })
    try {
      await ready()
      child.kill('SIGKILL')
      await until('the will', () => controller.topics.get('homie/5/ropewalk-tally/$state') === 'lost', 90)
      for (const id of controller.devices) expect([id, controller.state(id)]).toEqual([id, 'lost'])
    } finally {
      child.kill('SIGKILL')
    }
  })
})

it('no opening’s mark is the root’s id', () => {
  expect(homieRoot('w01', ['W01'])).toBe('w01-house')
  expect(homieRoot('Ropewalk/Tally', ['W01'])).toBe('ropewalk-tally')
  expect(homieRoot('Über/±', [])).toMatch(ID)
})
