import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { needs, programPath } from './missing.ts'
import { answers, freePort } from './ports.ts'
import { pause, until } from './until.ts'

/** Skips, with the reason, where the server is not installed. */
export const haveNats = needs('nats-server')

/** Fewer cannot lose one and go on. */
const NODES = 3

interface Ports {
  readonly mqtt: number
  readonly websocket: number
  readonly client: number
  readonly route: number
  readonly monitor: number
}

/** One node: a process in a folder of its own, on ports that it keeps through kill and start. */
export class NatsNode {
  #process: ChildProcess | undefined

  constructor(
    readonly name: string,
    readonly ports: Ports,
    private readonly folder: string,
  ) {}

  get url(): string {
    return `mqtt://127.0.0.1:${this.ports.mqtt}`
  }

  get websocketUrl(): string {
    return `ws://127.0.0.1:${this.ports.websocket}/mqtt`
  }

  start(): void {
    const program = programPath('nats-server')
    if (!program) throw new Error('nats-server is not installed: apt-get install nats-server')
    this.#process = spawn(program, ['-c', join(this.folder, `${this.name}.conf`)], { stdio: 'ignore' })
  }

  /** Ends it at once; what it had in memory only is gone. */
  async kill(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const child = this.#process
    this.#process = undefined
    if (!child || child.exitCode !== null || child.signalCode !== null) return
    const ended = new Promise(done => child.once('exit', done))
    child.kill(signal)
    await ended
  }

  /**
   * It has its place among the nodes again. Its copies may have to catch up: under load it calls one or the other of them
   * not current at any moment, and what was acknowledged stands on two of three nodes.
   */
  async isHealthy(): Promise<boolean> {
    try {
      return (await fetch(`http://127.0.0.1:${this.ports.monitor}/healthz?js-server-only=true`)).ok
    } catch {
      return false
    }
  }

  log(): Promise<string> {
    return readFile(join(this.folder, `${this.name}.log`), 'utf8').catch(() => '')
  }
}

/** Nodes of Debian's nats-server with MQTT over streams that each of them holds a copy of. */
export class NatsCluster {
  private constructor(
    readonly nodes: readonly NatsNode[],
    private readonly folder: string,
  ) {}

  /** @param lines - more settings of each node */
  static async start(lines = ''): Promise<NatsCluster> {
    for (let attempt = 1; ; attempt++) {
      const folder = await mkdtemp(join(tmpdir(), 'sashtally-nats-'))
      const all: Ports[] = []
      for (let node = 0; node < NODES; node++) {
        const [mqttPort, websocket, client, route, monitor] = await Promise.all([1, 2, 3, 4, 5].map(freePort))
        all.push({ mqtt: mqttPort!, websocket: websocket!, client: client!, route: route!, monitor: monitor! })
      }
      const nodes = all.map((ports, index) => new NatsNode(`n${index + 1}`, ports, folder))
      const routes = all.map(({ route }) => `nats://127.0.0.1:${route}`).join(', ')
      for (const { name, ports } of nodes) {
        const text = `server_name: ${name}
listen: "127.0.0.1:${ports.client}"
http: "127.0.0.1:${ports.monitor}"
log_file: "${join(folder, `${name}.log`)}"
jetstream { store_dir: "${join(folder, name)}", max_memory_store: 64MB, max_file_store: 256MB }
mqtt { listen: "127.0.0.1:${ports.mqtt}" }
websocket { listen: "127.0.0.1:${ports.websocket}", no_tls: true }
cluster { name: ropewalk, listen: "127.0.0.1:${ports.route}", routes: [${routes}] }
${lines}
`
        await writeFile(join(folder, `${name}.conf`), text)
      }
      const cluster = new NatsCluster(nodes, folder)
      try {
        for (const node of nodes) node.start()
        await cluster.healthy()
        return cluster
      } catch (error) {
        const logs = await Promise.all(nodes.map(node => node.log()))
        await cluster.close()
        if (attempt === 3)
          throw new Error(`nats-server did not start: ${String(error)}\n${logs.join('\n').slice(-3000)}`)
      }
    }
  }

  /** Addresses of all nodes, as a feed takes them. */
  get url(): string {
    return this.nodes.map(({ url }) => url).join(' ')
  }

  async healthy(seconds = 60): Promise<void> {
    for (const node of this.nodes) {
      const isUp = async () => (await node.isHealthy()) && (await answers(node.ports.mqtt))
      await until(`node ${node.name} to be healthy`, isUp, seconds)
    }
  }

  async close(): Promise<void> {
    await Promise.all(this.nodes.map(node => node.kill()))
    await pause(20)
    await rm(this.folder, { recursive: true, force: true })
  }
}
