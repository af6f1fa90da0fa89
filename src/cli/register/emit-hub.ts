import { resolve } from 'node:path'
import { hubEntries } from '../../emit/hub/hub.ts'
import { type HubFile, readHubFile } from '../../emit/hub/hub-file.ts'
import { recipeLines } from '../../emit/hub/kept-profile.ts'
import { profileText } from '../../emit/hub/profile.ts'
import { type Block, blockLines, splice } from '../../emit/hub/splice.ts'
import type { Register } from '../../register/types.ts'
import { inputName, readInput, readText, writeWhole } from '../files/read-write.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { delivered, guardInputs, tellProblems } from './emit-deliver.ts'
import { askedFor } from './emit-hub-asked.ts'
import { handKept, takenOver } from './emit-hub-by-hand.ts'
import { sourceOf } from './emit-hub-recipe.ts'
import { changesIn, detailOf, tellMore } from './emit-hub-words.ts'

export async function run(given: Given<typeof commands.hub>, world: World): Promise<Exit> {
  const asked = askedFor(given)
  guardInputs(asked.out, [asked.register, asked.profile, asked.like], world)
  guardInputs(asked.into, [asked.register, asked.profile], world)
  guardInputs(asked.saveProfile, [asked.register, asked.like, asked.into, asked.out], world)
  const register = await readRegister(asked.register, world)
  const opening = asked.mark === undefined ? undefined : openingOf(register, asked.mark, '--mark')
  const hubs = await readHubs([asked.into, asked.like], register, world)
  const [into, like] = [asked.into, asked.like].map(path =>
    path === undefined ? undefined : hubs.get(resolve(world.cwd, path)),
  )
  const isUnread = [...hubs.values()].includes(undefined)
  const source =
    isUnread && asked.profile === undefined
      ? undefined
      : await sourceOf(asked, register, opening, { into, like }, world)
  if (isUnread || !source) throw new Stop(EXIT.input, 'nothing was made')

  const reference = into ?? like
  const byHand = reference ? handKept(reference, register, source, like === reference) : []
  const left = asked.takeOver && into ? takenOver(into, register, source, byHand) : { hub: into, byHand }
  const { entries, problems, notes } = hubEntries(register, {
    ...source,
    leaveOut: new Set(left.byHand.map(({ mark }) => mark)),
  })
  if (problems.length) {
    tellProblems(problems, await readInput(asked.register, world), inputName(asked.register), world)
    throw new Stop(EXIT.input, 'nothing was made')
  }
  const block: Block = { as: source.profile.as, tally: register.tally, recipe: recipeLines(source), entries }
  const made =
    into && left.hub
      ? splice(left.hub, source.profile.place, block)
      : { text: `${blockLines(block).join('\n')}\n`, problems: [] }
  if (made.text === undefined) {
    tellProblems(made.problems, into?.text ?? '', asked.into ?? '', world)
    throw new Stop(EXIT.input, 'nothing was made')
  }
  if (asked.saveProfile !== undefined && source.learnedFrom && !asked.check)
    await writeWhole(asked.saveProfile, profileText(source.profile), world)
  const changes = changesIn(reference, block)
  const told = {
    source,
    byHand: left.byHand,
    taken: byHand.filter(each => !left.byHand.includes(each)),
    changes,
    isMoved: made.moved === true,
  }
  const own =
    into && asked.out === undefined ? { out: asked.into, now: into.byteOrderMark + into.text } : { out: asked.out }
  const state = await delivered({ text: made.text, check: asked.check, detail: detailOf(block, told), ...own }, world)
  if (state === 'written' || state === 'printed') tellMore(told, notes, asked, world)
  return state === 'out of date' ? EXIT.input : EXIT.fine
}

/** The hub's files by their full paths; undefined where problems were told. */
async function readHubs(
  paths: readonly (string | undefined)[],
  register: Register,
  world: World,
): Promise<Map<string, HubFile | undefined>> {
  const hubs = new Map<string, HubFile | undefined>()
  for (const path of paths) {
    const full = path === undefined ? undefined : resolve(world.cwd, path)
    if (path === undefined || full === undefined || hubs.has(full)) continue
    const text = await readText(path, world)
    const { hub, problems } = readHubFile(text, register.tally)
    tellProblems(problems, text, path, world)
    hubs.set(full, hub)
  }
  return hubs
}
