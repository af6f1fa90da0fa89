// Emitting and splicing 10,000 openings, against the YAML library's own writing and reading of the same document.
import { parse, parseDocument, stringify } from 'yaml'
import { hubEntries } from '../../dist/emit/hub/hub.js'
import { readHubFile } from '../../dist/emit/hub/hub-file.js'
import { recipeLines } from '../../dist/emit/hub/kept-profile.js'
import { learn } from '../../dist/emit/hub/learn.js'
import { parseProfile } from '../../dist/emit/hub/profile.js'
import { blockLines, splice } from '../../dist/emit/hub/splice.js'
import { asyncapi } from '../../dist/emit/standards/asyncapi.js'
import { parseRegister } from '../../dist/register/parse.js'

const OPENINGS = 10_000
const ROUNDS = 5

const cpuMilliseconds = work => {
  const start = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(start)
  return (user + system) / 1000
}

/** Least processor time of both, taken in turns, so that a busy machine slows neither alone. */
function compare(what, ours, theirs, most) {
  let [a, b] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY]
  for (let round = 0; round < ROUNDS; round++) {
    a = Math.min(a, cpuMilliseconds(ours))
    b = Math.min(b, cpuMilliseconds(theirs))
  }
  const verdict = a / b <= most ? 'ok' : 'MISSED'
  console.log(
    `${what}: ${a.toFixed(0)} ms against ${b.toFixed(0)} ms, ${(a / b).toFixed(2)} times (aim: at most ${most}) ${verdict}`,
  )
}

const PROFILE = `place: /lookouts
as: list
entry: { heading: x, under: x, line: x, stirs: x, settles: x, patience: 2 }
fill: { /heading: name, /under: room, /line: topic, /stirs: opened, /settles: rest }
`

export async function run() {
  const lines = Array.from(
    { length: OPENINGS },
    (_, i) => `  - { mark: W${i}, name: 'Window ${i}, south', room: Room ${i % 90}, sender: coin }`,
  )
  const text = `house: Bench\ntimezone: UTC\nbroker: { mqtt: 'mqtt://broker.lan' }\ntally: bench/tally\nsenders:\n  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }\nopenings:\n${lines.join('\n')}\n`
  const { register, problems } = parseRegister(text)
  if (!register) throw new Error(problems[0]?.message)
  const { profile } = parseProfile(PROFILE)
  if (!profile) throw new Error('the profile has problems')

  const document = parse(asyncapi(register).text)
  compare(
    'emit asyncapi / stringify',
    () => asyncapi(register),
    () => stringify(document),
    2,
  )

  const recipe = { profile, wire: 'contact' }
  const makeEntries = () => hubEntries(register, recipe).entries
  const blockOf = entries => ({ as: 'list', tally: register.tally, recipe: recipeLines(recipe), entries })
  const entries = makeEntries()
  const items = parse(blockLines(blockOf(entries)).join('\n'))
  compare(
    'emit hub / stringify',
    () => blockLines(blockOf(makeEntries())).join('\n'),
    () => stringify(items),
    2,
  )

  const put = (file, made = entries) => {
    const { hub } = readHubFile(file, register.tally)
    const done = splice(hub, '/lookouts', blockOf(made))
    if (done.text === undefined) throw new Error(done.problems[0].message)
    return done.text
  }
  const small = '# mine\nlookouts:\n  - heading: By hand\ntail: 1\n'
  const full = put(small)
  const roundTrip = text => () => parseDocument(text).toString()
  compare('first splice / parse and stringify', () => put(small), roundTrip(full), 2)
  const changed = entries.map((entry, i) =>
    i === 5000 ? { ...entry, value: new Map([['heading', 'changed']]) } : entry,
  )
  compare('splice over a block / parse and stringify', () => put(full, changed), roundTrip(full), 2)
  const byHand = items.map(({ heading }) => `  - heading: ${JSON.stringify(heading)}\n    own: [1, 2]\n`).join('')
  const kept = put(`lookouts:\n${byHand}tail: 1\n`, entries.slice(0, 1))
  compare(
    'splice one beside 10,000 by hand / parse and stringify',
    () => put(kept, entries.slice(0, 1)),
    roundTrip(kept),
    2,
  )

  const [model] = register.openings
  const lamps = Array.from(
    { length: 24_000 },
    (_, i) => `  - heading: "Lamp ${i}"\n    lit: [1, 2, "three"]\n    at: { floor: ${i % 4}, side: south }\n`,
  )
  const one = `lookouts:\n  - heading: ${JSON.stringify(model.name)}\n    rule: "'${model.topic}' says 'opened'"\n    line: ${model.topic}\nlamps:\n${lamps.join('')}`
  const few = { ...register, openings: register.openings.slice(0, 26) }
  compare(
    `learn from one entry in ${(one.length / 1e6).toFixed(1)} MB / parse it twice`,
    () => {
      const { hub } = readHubFile(one, few.tally)
      const { problems } = learn(hub, few, model, { wire: 'tally', fill: new Map() })
      if (problems.length) throw new Error(problems[0].message)
    },
    () => [parseDocument(one), parseDocument(one)],
    1,
  )
}
