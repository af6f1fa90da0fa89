import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import { GROUPS } from '../../src/cli/commands.ts'
import { readGiven } from '../../src/cli/program/command.ts'
import { parserOf } from '../../src/cli/program/parser.ts'
import { ACCESS_FILE, brokerSettings, PASSWORDS_FILE, SETTINGS_FILE } from '../../src/emit/broker/settings.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { fakeWorld } from '../support/world.ts'

const read = (path: string): string => readFileSync(fileURLToPath(new URL(`../../${path}`, import.meta.url)), 'utf8')

interface Service {
  readonly build: { readonly target: string; readonly dockerfile: string }
  readonly ports: readonly string[]
  readonly volumes: readonly string[]
  readonly healthcheck: { readonly test: readonly string[] }
  readonly [key: string]: unknown
}
interface Compose {
  readonly services: { readonly broker: Service; readonly keeper: Service }
  readonly secrets: Readonly<Record<string, { readonly file: string }>>
  readonly volumes: Readonly<Record<string, null>>
}
const compose: Compose = parse(read('examples/container/compose.yaml'), { merge: true })
const { broker, keeper } = compose.services
/** The lines of one image, a continued one as one. */
const stage = (name: string): string =>
  new RegExp(`^FROM \\S+ AS ${name}\\n([\\s\\S]*?)(?=^FROM|(?![\\s\\S]))`, 'm')
    .exec(read('examples/container/Containerfile'))![1]!
    .replace(/ \\\n\s*/g, ' ')
const unit = new Map(
  [...read('examples/sashtally.service').matchAll(/^([A-Z]\w+)=(.*)$/gm)].map(([, key = '', value = '']) => [
    key,
    value,
  ]),
)
const commandOf = (image: string, keyword: string): string[] =>
  JSON.parse(new RegExp(`^${keyword} (\\[.*\\])$`, 'm').exec(image)![1]!)

describe('the keeper in a container, beside the unit file', () => {
  const image = stage('keeper')
  const argv = [...commandOf(image, 'ENTRYPOINT'), ...commandOf(image, 'CMD')]

  /** What the unit file sets, and what does the same for the container. */
  const SAME: Readonly<Record<string, () => unknown>> = {
    ExecStart: () => expect(argv.slice(0, 7)).toEqual(unit.get('ExecStart')!.split(' ').slice(1, 8)),
    Environment: () => expect(image).toContain(`ENV ${unit.get('Environment')!.replace('%d/', '/run/secrets/')}`),
    LoadCredential: () => expect(compose.secrets).toHaveProperty([unit.get('LoadCredential')!.split(':')[0]!]),
    User: () => expect(image).toMatch(new RegExp(`^USER ${unit.get('User')}$`, 'm')),
    StateDirectory: () => expect(volumesOf(keeper)).toContain(`/var/lib/${unit.get('StateDirectory')}`),
    StateDirectoryMode: () => expect(image).toMatch(new RegExp(`install -d -m ${unit.get('StateDirectoryMode')} `)),
    ReadWritePaths: () => expect(volumesOf(keeper)).toContain(unit.get('ReadWritePaths')!.slice(1)),
    ProtectSystem: () => expect(keeper.read_only).toBe(true),
    PrivateTmp: () => expect(keeper.tmpfs).toEqual([expect.stringMatching(/^\/tmp:/)]),
    NoExecPaths: () => expect(keeper.tmpfs).toEqual([expect.stringMatching(/\bnoexec\b/)]),
    CapabilityBoundingSet: () => expect(keeper.cap_drop).toEqual(['ALL']),
    AmbientCapabilities: () => expect(keeper).not.toHaveProperty('cap_add'),
    NoNewPrivileges: () => expect(keeper.security_opt).toEqual(['no-new-privileges:true']),
    RestrictSUIDSGID: () => expect(keeper.tmpfs).toEqual([expect.stringMatching(/\bnosuid\b/)]),
    MemoryMax: () => expect(keeper.mem_limit).toBe(unit.get('MemoryMax')!.toLowerCase()),
    TasksMax: () => expect(String(keeper.pids_limit)).toBe(unit.get('TasksMax')),
    Restart: () => expect(keeper.restart).toBe('unless-stopped'),
  }
  /** What every container has of its engine: its own view of the system, and a list of system calls. */
  const ENGINE =
    /^(Protect(Home|Proc|Kernel\w+|ControlGroups|Clock|Hostname)|ProcSubset|PrivateDevices|DevicePolicy|RemoveIPC|LockPersonality|Restrict(Realtime|Namespaces|AddressFamilies)|SystemCall\w+)$/
  /**
   * Of systemd alone; a container has nothing like these, or an engine only where it was set up so (users of its own,
   * volumes from which nothing can be run). The store sets the rights of its own files.
   */
  const NONE =
    /^(PrivateUsers|ExecPaths|Description|After|Wants|WantedBy|Type|RestartSec|RestartPreventExitStatus|UMask|IPAddress\w+)$/

  test('has all that the unit file sets, or its engine brings it, or it is known to be missing', () => {
    const left = [...unit.keys()].filter(key => !(key in SAME) && !ENGINE.test(key) && !NONE.test(key))
    expect(left).toEqual([])
    expect(Object.keys(SAME).filter(key => !unit.has(key))).toEqual([])
  })
  test.each(Object.entries(SAME))('%s has its counterpart', (_key, look) => void look())

  test('runs a command that there is, for the network, and is asked where it listens', () => {
    const ran: unknown[] = []
    parserOf(GROUPS, fakeWorld(), (command, typed) => {
      ran.push(command.name, readGiven(command, typed).options)
    }).parse(argv.slice(1), { from: 'user' })
    expect(ran).toEqual(['serve', expect.objectContaining({ host: '0.0.0.0', port: 8080, log: 'json' })])
    expect(keeper.ports).toEqual(['8080:8080'])
    expect(keeper.healthcheck.test.join(' ')).toContain('http://127.0.0.1:8080/healthz')
    expect(volumesOf(keeper)).toContain('/etc/sashtally')
  })
})

describe('the broker in a container', () => {
  const register = read('examples/ropewalk.yaml').replaceAll('127.0.0.1', 'broker.lan')
  const settings = brokerSettings(parseRegister(register).register!, {
    place: '/etc/mosquitto',
    passwords: PASSWORDS_FILE,
  })
  const valuesOf = (key: string): string[] =>
    [...settings.matchAll(new RegExp(`^${key} (\\S+)$`, 'gm'))].map(([, value = '']) => value)

  test('is known by the register’s name, at the ports on which its settings listen', () => {
    expect(broker.networks).toEqual({ default: { aliases: ['broker.lan'] } })
    expect(broker.ports).toEqual(valuesOf('listener').map(port => `${port}:${port}`))
    expect(broker.healthcheck.test.join(' ')).toContain(`-p ${valuesOf('listener')[0]} `)
  })
  test('finds its files where the settings name them, and writes where they say', () => {
    expect(commandOf(stage('broker'), 'CMD').at(-1)).toBe(`/etc/mosquitto/${SETTINGS_FILE}`)
    expect(valuesOf('acl_file')).toEqual([`/etc/mosquitto/${ACCESS_FILE}`])
    expect(broker.volumes[0]).toBe('./broker:/etc/mosquitto:ro')
    expect(volumesOf(broker)).toContain(valuesOf('persistence_location')[0]!.replace(/\/$/, ''))
  })
  test('is shut in as the keeper is', () => {
    for (const key of ['read_only', 'tmpfs', 'cap_drop', 'security_opt', 'mem_limit', 'pids_limit', 'restart'])
      expect([key, broker[key]]).toEqual([key, keeper[key]])
    expect(stage('broker')).toMatch(/^USER mosquitto$/m)
  })
})

test('each has volumes of its own, an image of the file beside, and users as the steps have them', () => {
  const named = (service: Service) =>
    service.volumes.map(each => each.split(':')[0]!).filter(name => !name.startsWith('.'))
  expect([...named(broker), ...named(keeper)].sort()).toEqual(Object.keys(compose.volumes).sort())
  const text = read('examples/container/compose.yaml')
  for (const [service, owner] of [
    [broker, /chown -R (\d+) broker/],
    [keeper, /-o (\d+) \S*keeper\.password/],
  ] as const) {
    expect(service.build.dockerfile).toBe('Containerfile')
    expect(stage(service.build.target)).toContain(`--uid ${owner.exec(text)![1]} `)
  }
})

test('nothing but the package goes into an image', () => {
  const kept = read('examples/container/.dockerignore')
    .split('\n')
    .filter(line => line && !line.startsWith('#'))
  expect(kept).toEqual(['*', '!sashtally-*.tgz'])
  const copied = [...read('examples/container/Containerfile').matchAll(/^(?:COPY|ADD) (.*)$/gm)].map(([, what]) => what)
  expect(copied).toEqual(['sashtally-*.tgz /tmp/'])
})

function volumesOf({ volumes }: Service): string[] {
  return volumes.map(each => each.split(':')[1]!)
}
