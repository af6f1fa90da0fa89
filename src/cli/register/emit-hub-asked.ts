import { parse } from 'yaml'
import type { Filling } from '../../emit/hub/filling.ts'
import { readFilling } from '../../emit/hub/filling.ts'
import type { Settled } from '../../emit/hub/settled.ts'
import type { Value } from '../../text/yaml-value.ts'
import type { Given } from '../program/command.ts'
import { EXIT, Stop } from '../world.ts'
import type * as commands from './commands.ts'

type Options = Given<typeof commands.hub>['options']

/** What was asked for: the options, with what was settled as fillings. */
export interface Asked extends Omit<Options, 'fill'> {
  readonly register: string
  readonly fill: Settled
}

/** @throws Stop exit 2 with every option that does not go with the others, and parts that are none */
export function askedFor({ args: { file }, options }: Given<typeof commands.hub>): Asked {
  const { like, profile, into, out, mark, saveProfile, takeOver, check } = options
  const wrong: string[] = []
  const fill = new Map<string, Filling | null>()
  for (const { pointer, field, parts } of options.fill) {
    if (fill.has(pointer)) wrong.push(`--fill settles ${pointer} twice: keep one`)
    else if (parts === undefined) fill.set(pointer, field ? [field] : null)
    else {
      const { filling, faults } = readFilling(partsOf(parts))
      if (filling) fill.set(pointer, filling)
      for (const { message } of faults) wrong.push(`--fill ${pointer}=${parts}: ${message}`)
    }
  }
  const learns = like !== undefined
  if (learns && profile !== undefined) wrong.push('--profile and --like are two ways to the same thing: give one')
  if (!learns && profile === undefined && into === undefined)
    wrong.push('give --like with --mark, or --profile, or --into with a file whose block keeps its profile')
  if (learns && mark === undefined) wrong.push('--like needs --mark: the opening whose entry you wrote by hand')
  if (!learns && mark !== undefined) wrong.push('--mark belongs to --like')
  if (profile !== undefined && fill.size > 0) wrong.push('--fill belongs to --like; in a profile, write it under fill')
  if (!learns && saveProfile !== undefined) wrong.push('--save-profile belongs to --like')
  if (takeOver && into === undefined) wrong.push("--take-over moves entries in the hub's file: name it with --into")
  if (check && into === undefined && out === undefined)
    wrong.push('--check compares with a file: name it with --into or --out')
  if (wrong.length) throw new Stop(EXIT.usage, wrong.join('\nsashtally: '))
  return { ...options, register: file, fill }
}

/** A list of YAML flow; what is none stays text, which no filling is. */
function partsOf(text: string): Value {
  try {
    return parse(text, { mapAsMap: true, logLevel: 'error' }) as Value
  } catch {
    return text
  }
}
