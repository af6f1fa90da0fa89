import { resolve } from 'node:path'
import { FIELDS, type Field, isField, WIRES, type Wire } from '../../emit/hub/fields.ts'
import { hubEntries } from '../../emit/hub/hub.ts'
import { type HubFile, readHubFile } from '../../emit/hub/hub-file.ts'
import { like } from '../../emit/hub/like.ts'
import { type Profile, parseProfile, profileText } from '../../emit/hub/profile.ts'
import { blockLines, splice } from '../../emit/hub/splice.ts'
import { standing } from '../../emit/hub/standing.ts'
import { EMITTERS } from '../../emit/table.ts'
import type { Opening, Register } from '../../register/types.ts'
import { nearest } from '../../text/nearest.ts'
import { readRegister, readText, writeWhole } from '../shared/files.ts'
import { openingOf } from '../shared/mark.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from '../world.ts'
import { DELIVERY_OPTIONS, deliver, guardInputs, tellProblems, tellRemarks } from './emit-deliver.ts'

export const hubCommand: CommandSpec = {
  name: 'emit hub',
  args: '<file>',
  summary: `Make ${EMITTERS.hub.makes}.`,
  options: [
    { flags: '-p, --profile <file>', text: 'the profile that says how this hub wants an entry' },
    {
      flags: '-l, --like <file>',
      text: "the hub's file with one entry written by hand; the profile is learned from it",
    },
    { flags: '-m, --mark <mark>', text: 'the opening whose entry was written by hand, with --like' },
    {
      flags: '-f, --fill <pair>',
      text: 'settle what --like leaves open: /pointer=field, key=field, or /pointer= to keep a value as it is; again for each',
      isList: true,
    },
    { flags: '--save-profile <file>', text: 'write the profile that --like learned to this file' },
    {
      flags: '-w, --wire <to>',
      text: "what the hub listens to: each contact's own topic, or the tally's plain word",
      choices: WIRES,
      fallback: 'contact',
    },
    {
      flags: '-i, --into <file>',
      text: "put the entries into the hub's file, between two marker comments; all else stays as it is",
    },
    ...DELIVERY_OPTIONS,
  ],
  examples: [
    'sashtally emit hub examples/ropewalk.yaml --profile examples/teasel.profile.yaml',
    'sashtally emit hub examples/ropewalk.yaml --like examples/bellframe.hub.yaml --mark W01 --into hub.yaml',
    'sashtally emit hub examples/ropewalk.yaml --like examples/bellframe.hub.yaml --mark W01 --fill /pull/care=qos --save-profile hub.profile.yaml',
  ],
  run,
}

interface Asked {
  readonly register: string
  readonly profile?: string | undefined
  readonly like?: string | undefined
  readonly mark?: string | undefined
  readonly fill: ReadonlyMap<string, Field | null>
  readonly saveProfile?: string | undefined
  readonly wire: Wire
  readonly into?: string | undefined
  readonly out?: string | undefined
  readonly check: boolean
}

function askedFor({ args: [register = ''], options }: Given): Asked {
  const text = (name: string) => options[name] as string | undefined
  const wrong: string[] = []
  const fill = new Map<string, Field | null>()
  for (const pair of (options.fill as string[] | undefined) ?? []) {
    const cut = pair.lastIndexOf('=')
    const [pointer, field] = [pair.slice(0, cut), pair.slice(cut + 1)]
    const near = nearest(field, FIELDS)
    if (cut < 1 || (pointer !== 'key' && !pointer.startsWith('/')))
      wrong.push(`--fill takes /pointer=field, key=field or /pointer=, and got ${JSON.stringify(pair)}`)
    else if (field !== '' && !isField(field))
      wrong.push(`--fill ${pair}: a field is one of ${FIELDS.join(', ')}${near ? `; did you mean ${near}?` : ''}`)
    else if (fill.has(pointer)) wrong.push(`--fill settles ${pointer} twice: keep one`)
    else fill.set(pointer, field === '' ? null : (field as Field))
  }
  const learned = text('like') !== undefined
  if (learned === (text('profile') !== undefined))
    wrong.push(
      learned
        ? '--profile and --like are two ways to the same thing: give one'
        : 'give --profile, or --like with --mark',
    )
  if (learned !== (text('mark') !== undefined))
    wrong.push(learned ? '--like needs --mark: the opening whose entry you wrote by hand' : '--mark belongs to --like')
  if (!learned && fill.size) wrong.push('--fill belongs to --like; in a profile, write it under fill')
  if (!learned && text('saveProfile') !== undefined) wrong.push('--save-profile belongs to --like')
  if (options.check && text('into') === undefined && text('out') === undefined)
    wrong.push('--check compares with a file: name it with --into or --out')
  if (wrong.length) throw new Stop(EXIT.usage, wrong.join('\nsashtally: '))
  return {
    register,
    profile: text('profile'),
    like: text('like'),
    mark: text('mark'),
    fill,
    saveProfile: text('saveProfile'),
    wire: text('wire') as Wire,
    into: text('into'),
    out: text('out'),
    check: options.check === true,
  }
}

async function run(given: Given, world: World): Promise<Exit> {
  const asked = askedFor(given)
  guardInputs(asked.out, [asked.register, asked.profile, asked.like], world)
  guardInputs(asked.into, [asked.register, asked.profile], world)
  guardInputs(asked.saveProfile, [asked.register, asked.like, asked.into, asked.out], world)
  const register = await readRegister(asked.register, world)
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
    tellProblems(problems, await readText(asked.register, world), asked.register, world)
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
  const { profile, problems, remarks } = like(hub, register, opening, { wire: asked.wire, fill: asked.fill })
  tellRemarks(remarks, world)
  tellProblems(problems, hub.text, asked.like, world)
  return profile
}
