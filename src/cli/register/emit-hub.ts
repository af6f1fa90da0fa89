import { resolve } from 'node:path'
import { hubEntries } from '../../emit/hub/hub.ts'
import { type HubFile, readHubFile } from '../../emit/hub/hub-file.ts'
import { like } from '../../emit/hub/like.ts'
import { type Profile, parseProfile, profileText } from '../../emit/hub/profile.ts'
import { blockLines, splice } from '../../emit/hub/splice.ts'
import { standing } from '../../emit/hub/standing.ts'
import type { Opening, Register } from '../../register/types.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver, guardInputs, tellProblems, tellRemarks } from './emit-deliver.ts'

type Asked = Given<typeof commands.hub>['options']

/** @throws Stop exit 2 with every option that does not go with the others */
function mustGoTogether({ profile, like, mark, fill, saveProfile, into, out, check }: Asked): void {
  const wrong: string[] = []
  const twice = fill.filter(({ pointer }, index) => fill.findIndex(other => other.pointer === pointer) < index)
  for (const { pointer } of twice) wrong.push(`--fill settles ${pointer} twice: keep one`)
  if (like !== undefined && profile !== undefined)
    wrong.push('--profile and --like are two ways to the same thing: give one')
  if (like === undefined && profile === undefined) wrong.push('give --profile, or --like with --mark')
  if (like !== undefined && mark === undefined)
    wrong.push('--like needs --mark: the opening whose entry you wrote by hand')
  if (like === undefined && mark !== undefined) wrong.push('--mark belongs to --like')
  if (like === undefined && fill.length > 0) wrong.push('--fill belongs to --like; in a profile, write it under fill')
  if (like === undefined && saveProfile !== undefined) wrong.push('--save-profile belongs to --like')
  if (check && into === undefined && out === undefined)
    wrong.push('--check compares with a file: name it with --into or --out')
  if (wrong.length) throw new Stop(EXIT.usage, wrong.join('\nsashtally: '))
}

export async function run({ args: { file }, options: asked }: Given<typeof commands.hub>, world: World): Promise<Exit> {
  mustGoTogether(asked)
  guardInputs(asked.out, [file, asked.profile, asked.like], world)
  guardInputs(asked.into, [file, asked.profile], world)
  guardInputs(asked.saveProfile, [file, asked.like, asked.into, asked.out], world)
  const register = await readRegister(file, world)
  const opening = asked.mark === undefined ? undefined : openingOf(register, asked.mark, '--mark')
  const hubs = new Map<string, HubFile | undefined>()
  let bad = false
  async function hubAt(path: string): Promise<HubFile | undefined> {
    const full = resolve(world.cwd, path)
    if (!hubs.has(full)) {
      const text = await readText(path, world)
      const { hub, problems } = readHubFile(text, register.tally)
      tellProblems(problems, text, path, world)
      hubs.set(full, hub)
    }
    const hub = hubs.get(full)
    bad ||= hub === undefined
    return hub
  }
  const into = asked.into === undefined ? undefined : await hubAt(asked.into)
  const likeHub = asked.like === undefined ? undefined : await hubAt(asked.like)
  const profile = await profileOf(asked, register, opening, likeHub, world)
  if (bad || !profile) throw new Stop(EXIT.input, 'nothing was made')

  const reference = into ?? likeHub
  const kept = new Map(reference ? standing(reference, profile, register) : [])
  if (opening && likeHub === reference && !kept.has(opening.mark)) kept.set(opening.mark, 0)
  const { entries, problems, remarks } = hubEntries(register, {
    profile,
    wire: asked.wire,
    leaveOut: new Set(kept.keys()),
  })
  tellRemarks(remarks, world)
  if (kept.size) {
    const list = [...kept].map(([mark, line]) => (line ? `${mark} (line ${line})` : mark)).join(', ')
    tellRemarks([`Kept by hand, so left out: ${list}`], world)
  }
  if (asked.wire === 'contact') {
    tellRemarks(
      [
        'These entries listen to the contacts themselves. A rest word comes seconds after every opening, whether or not the window was shut, so the hub will take an open window for closed. Once a keeper runs, make them again with --wire tally: the tally says closed only of what was seen or reported shut',
      ],
      world,
    )
  }
  if (problems.length) {
    tellProblems(problems, await readText(file, world), file, world)
    return EXIT.input
  }
  let text = `${blockLines(entries, profile.as, register.tally).join('\n')}\n`
  if (into && asked.into !== undefined) {
    const spliced = splice(into, profile.place, profile.as, entries, register.tally)
    if (spliced.text === undefined) {
      tellProblems(spliced.problems, into.text, asked.into, world)
      return EXIT.input
    }
    if (spliced.moved) tellRemarks([`The block stood at another place; it now stands at ${profile.place}`], world)
    text = spliced.text
  }
  if (asked.like !== undefined && !asked.check) {
    if (asked.saveProfile !== undefined) await writeWhole(asked.saveProfile, profileText(profile), world)
    else world.stderr.write(`\n${profileText(profile)}\n`)
  }
  const own =
    into && asked.out === undefined ? { out: asked.into, now: into.byteOrderMark + into.text } : { out: asked.out }
  return deliver({ text, check: asked.check, ...own }, world)
}

async function profileOf(
  asked: Asked,
  register: Register,
  opening: Opening | undefined,
  hub: HubFile | undefined,
  world: World,
): Promise<Profile | undefined> {
  if (asked.profile !== undefined) {
    const text = await readText(asked.profile, world)
    const { profile, problems, remarks } = parseProfile(text)
    tellProblems(problems, text, asked.profile, world)
    tellRemarks(remarks, world)
    return profile
  }
  if (!hub || !opening || asked.like === undefined) return undefined
  const { profile, problems, remarks } = like(hub, register, opening, {
    wire: asked.wire,
    fill: new Map(asked.fill.map(({ pointer, field }) => [pointer, field])),
  })
  tellRemarks(remarks, world)
  tellProblems(problems, hub.text, asked.like, world)
  return profile
}
