import { readdirSync } from 'node:fs'
import type { EmittedFile } from '../../emit/firmware/firmware.ts'
import { CONTACT_PORTS, type ContactPort } from '../../emit/firmware/ports.ts'
import { besideCode } from '../files/in-package.ts'
import { readText } from '../files/read-write.ts'
import type { World } from '../world.ts'

/** Folder of the C sources: beside the emitters, in the sources and in the package alike. */
const FOLDER = besideCode('emit/firmware/c/')

/** The contact program, and the port that was asked for. */
export function contactProgram(port: ContactPort | undefined, world: World): Promise<EmittedFile[]> {
  const others = new Set<string>(Object.entries(CONTACT_PORTS).flatMap(([name, file]) => (name === port ? [] : [file])))
  const names = readdirSync(FOLDER).filter(name => /\.[ch]$/.test(name) && !others.has(name))
  return Promise.all(names.sort().map(async name => ({ name, text: await readText(`${FOLDER}${name}`, world) })))
}
