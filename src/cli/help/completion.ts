import type { CommandGroup, Definition, Given } from '../program/command.ts'
import { longOf } from '../program/option.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'

export async function run(
  { args: { shell } }: Given<typeof commands.completion>,
  world: World,
  groups: readonly CommandGroup[],
): Promise<Exit> {
  world.stdout.write(COMPLETIONS[shell](groups.flatMap(({ commands }) => commands)))
  return EXIT.fine
}

/** Choices as one text for a shell, which would part those that hold a blank. */
const wordsOf = (choices: readonly string[]): string =>
  single(choices.filter(choice => !choice.includes(' ')).join(' '))

/** Words of an argument that is one of a few: it must be the first, for what stands before it is not counted. */
const choicesOf = ({ args }: Definition): readonly string[] | undefined => Object.values(args)[0]?.choices

/** Words that may follow what has been typed: '' for the first, `emit` for the second of a group. */
function partsAfter(commands: readonly Definition[]): Map<string, string[]> {
  const next = new Map<string, string[]>()
  for (const { name } of commands) {
    const words = name.split(' ')
    for (const [index, word] of words.entries()) {
      const typed = words.slice(0, index).join(' ')
      const known = next.get(typed) ?? []
      if (!known.includes(word)) next.set(typed, [...known, word])
    }
  }
  return next
}

const single = (text: string): string => `'${text.replaceAll("'", "'\\''")}'`
const once = (lines: readonly string[]): string => [...new Set(lines)].join('\n')

/** The cases that bash and zsh share: what has been typed, the words that may follow, and the values of an option. */
function cases(commands: readonly Definition[]): { typed: string; words: string; options: string; values: string } {
  const choices = commands.flatMap(command => {
    const words = choicesOf(command)
    return words ? [[command.name, words] as const] : []
  })
  const words = [...partsAfter(commands), ...choices]
  const options = commands.map(
    command =>
      `    ${single(command.name)}) options=${single([...Object.keys(command.options).map(longOf), '--help'].join(' '))} ;;`,
  )
  const values = commands.flatMap(({ name, options }) =>
    Object.entries(options).flatMap(([option, { short, choices }]) => {
      const flags = [longOf(option), ...(short === undefined ? [] : [`-${short}`])]
      return choices
        ? [`    ${flags.map(flag => single(`${name} ${flag}`)).join(' | ')}) words=${wordsOf(choices)} ;;`]
        : []
    }),
  )
  return {
    typed: once(
      commands
        .flatMap(({ name }) => [name.split(' ')[0] ?? '', name])
        .map(name => `      ${single(name)}) typed="\${typed:+$typed }$word" ;;`),
    ),
    words: once(words.map(([after, next]) => `    ${single(after)}) words=${single(next.join(' '))} ;;`)),
    options: once(options),
    values: once(values),
  }
}

function bash(commands: readonly Definition[]): string {
  const { typed, words, options, values } = cases(commands)
  return `# bash completion for sashtally
_sashtally() {
  local current=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]} typed='' words='' options='' i word
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=\${COMP_WORDS[i]}
    case "\${typed:+$typed }$word" in
${typed}
    esac
  done
  case "$typed" in
${words}
  esac
  case "$typed" in
${options}
  esac
  case "$typed $before" in
${values}
  esac
  if [[ $current == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$current")
  elif [[ -n $words ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
  else
    compopt -o filenames 2> /dev/null
    mapfile -t COMPREPLY < <(compgen -f -- "$current")
  fi
}
complete -F _sashtally sashtally
`
}

function zsh(commands: readonly Definition[]): string {
  const { typed, words, options, values } = cases(commands)
  return `#compdef sashtally
_sashtally() {
  local typed='' options='' next='' word before=\${words[CURRENT-1]} current=\${words[CURRENT]}
  for word in \${words[2,CURRENT-1]}; do
    case "\${typed:+$typed }$word" in
${typed}
    esac
  done
  case "$typed" in
${words.replaceAll(') words=', ') next=')}
  esac
  case "$typed" in
${options}
  esac
  case "$typed $before" in
${values.replaceAll(') words=', ') next=')}
  esac
  if [[ $current == -* ]]; then
    compadd -- \${=options}
  elif [[ -n $next ]]; then
    compadd -- \${=next}
  else
    _files
  fi
}
if [[ \${funcstack[1]} == _sashtally ]]; then
  _sashtally "$@"
else
  compdef _sashtally sashtally
fi
`
}

function fish(commands: readonly Definition[]): string {
  const lines = ['# fish completion for sashtally']
  const parts = partsAfter(commands)
  const add = (when: string, rest: string): void => void lines.push(`complete -c sashtally -n ${single(when)} ${rest}`)
  for (const word of parts.get('') ?? []) {
    const own = commands.find(({ name }) => name === word)
    add(
      '__fish_use_subcommand',
      `-f -a ${word} -d ${single(own?.summary ?? `One of: ${parts.get(word)?.join(', ')}.`)}`,
    )
  }
  for (const command of commands) {
    const [first = '', second] = command.name.split(' ')
    const here = `__fish_seen_subcommand_from ${first}`
    const when = second ? `${here}; and __fish_seen_subcommand_from ${second}` : here
    if (second) {
      const none = `${here}; and not __fish_seen_subcommand_from ${parts.get(first)?.join(' ')}`
      add(none, `-f -a ${second} -d ${single(command.summary)}`)
    }
    const values = choicesOf(command)
    if (values)
      add(`${when}; and not __fish_seen_subcommand_from ${values.join(' ')}`, `-f -a ${single(values.join(' '))}`)
    for (const [name, { short, choices, value, text }] of Object.entries(command.options)) {
      const values = choices ? ` -x -a ${wordsOf(choices)}` : value === undefined ? '' : ' -r'
      add(when, `${short ? `-s ${short} ` : ''}-l ${longOf(name).slice(2)}${values} -d ${single(text)}`)
    }
  }
  return `${lines.join('\n')}\n`
}

const COMPLETIONS: Readonly<Record<(typeof commands.SHELLS)[number], (commands: readonly Definition[]) => string>> = {
  bash,
  zsh,
  fish,
}
