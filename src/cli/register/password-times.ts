import { randomBytes, scrypt } from 'node:crypto'
import { existsSync } from 'node:fs'
import { stat } from 'node:fs/promises'
import { resolve } from 'node:path'
import { promisify } from 'node:util'
import * as z from 'zod/mini'
import { privatePasswords } from '../../emit/firmware/private-header.ts'
import { fittingJson, LONGEST } from '../../protocol/fitting.ts'
import { anyTime, map, only, type Plain, pattern } from '../../protocol/parts.ts'
import { iso } from '../../text/time.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** A password that held from a time on, as a salted fingerprint that does not give it away. */
const heldSchema = map({
  /** The first of all held before as well, as far as anybody knows. */
  since: anyTime,
  fingerprint: pattern(/^[0-9a-f]+$/, 'must be hex digits'),
})

const timesSchema = map({
  v: only(1),
  salt: pattern(/^[0-9a-f]{32}$/, 'must be 32 hex digits'),
  /** Of the network, under the empty mark, and of each contact's account; oldest first, the last holds now. */
  held: z.record(z.string(), z.array(heldSchema)),
})

/**
 * Since when which passwords stand in a private header; kept beside it, for its owner alone. Neither the register nor
 * the tally nor a topic holds any of it.
 */
export interface PasswordTimes extends Plain<typeof timesSchema> {}

export const NETWORK = ''

/** Most times kept of one password. */
const MOST = 50

const deriveKey = promisify<string, Buffer, number, Buffer>(scrypt)

/** scrypt (RFC 7914) with node's own N 16384, r 8, p 1: a guess at a weak password costs some 50 ms. */
const fingerprintOf = async (literal: string, salt: string): Promise<string> =>
  (await deriveKey(literal, Buffer.from(salt, 'hex'), 16)).toString('hex')

const fileOf = (privateFile: string): string => `${privateFile}.times`

/**
 * Brings the times up to date with a private header, and gives them. A password that was changed by hand since they
 * were noted last is taken to hold since the file was written.
 * @param marks - of the contacts
 * @throws Stop exit 3 when a file cannot be read or written, exit 1 when the times are no such file
 */
export async function notePasswordTimes(
  privateFile: string,
  marks: readonly string[],
  world: World,
): Promise<PasswordTimes> {
  const text = await readText(privateFile, world)
  const { mtimeMs } = await stat(resolve(world.cwd, privateFile))
  const old = await readTimes(privateFile, world)
  const { network, contacts } = privatePasswords(text, marks)
  const now = [...contacts, ...(network === undefined ? [] : [[NETWORK, network] as const])]
  const fingerprints = await Promise.all(now.map(([, literal]) => fingerprintOf(literal, old.salt)))
  const since = iso(Math.min(mtimeMs, world.now()))
  const held = { ...old.held }
  now.forEach(([mark], index) => {
    const fingerprint = fingerprints[index]!
    const before = held[mark] ?? []
    if (before.at(-1)?.fingerprint !== fingerprint) held[mark] = [...before, { since, fingerprint }].slice(-MOST)
  })
  const times: PasswordTimes = { v: 1, salt: old.salt, held }
  const made = `${JSON.stringify(times, null, 1)}\n`
  if (made !== `${JSON.stringify(old, null, 1)}\n`) await writeWhole(fileOf(privateFile), made, world, 0o600)
  return times
}

async function readTimes(privateFile: string, world: World): Promise<PasswordTimes> {
  const file = fileOf(privateFile)
  if (!existsSync(resolve(world.cwd, file))) return { v: 1, salt: randomBytes(16).toString('hex'), held: {} }
  const times = fittingJson(timesSchema, await readText(file, world), LONGEST.register)
  if (times) return times
  throw new Stop(EXIT.input, `${file} does not hold the times of passwords: move it away, and they are noted anew`)
}

/**
 * Since when a password holds that a module did not get when it was flashed.
 * @param flashedAt - ISO 8601
 * @returns undefined when the module holds the one that holds now, or none ever stood in the private header
 */
export function renewedSince({ held }: PasswordTimes, mark: string, flashedAt: string): string | undefined {
  const list = held[mark] ?? []
  const then = list.findLast(({ since }) => Date.parse(since) <= Date.parse(flashedAt)) ?? list[0]
  const now = list.at(-1)
  return then?.fingerprint === now?.fingerprint ? undefined : now?.since
}
