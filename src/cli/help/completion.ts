import { COMMANDS } from '../commands.ts'
import { type CommandSpec, EXIT, type OptionSpec } from '../world.ts'

export const SHELLS = ['bash', 'zsh', 'fish'] as const

export const completionCommand: CommandSpec = {
  name: 'completion',
  args: '<shell>',
  summary: `Print completion for a shell: ${SHELLS.join(', ')}.`,
  options: [],
  examples: [
    'sashtally completion bash > ~/.local/share/bash-completion/completions/sashtally',
    'sashtally completion zsh > ~/.zfunc/_sashtally',
    'sashtally completion fish > ~/.config/fish/completions/sashtally.fish',
  ],
  async run({ args: [shell = ''] }, world) {
    const make = Object.entries({ bash, zsh, fish }).find(([name]) => name === shell)?.[1]
    if (!make) {
      world.stderr.write(`sashtally: a shell is one of ${SHELLS.join(', ')}; found ${JSON.stringify(shell)}\n`)
      return EXIT.usage
    }
    world.stdout.write(make(COMMANDS))
    return EXIT.fine
  },
}

/** Arguments that are one of a few words. */
const ARGUMENTS: Readonly<Record<string, readonly string[]>> = { completion: SHELLS }

const longOf = ({ flags }: OptionSpec): string => /--[a-z-]+/.exec(flags)?.[0] ?? ''
const shortOf = ({ flags }: OptionSpec): string | undefined => /^-[a-z]/.exec(flags)?.[0]
const takesValue = ({ flags }: OptionSpec): boolean => flags.includes('<')

/** Words that may follow what has been typed: '' for the first, `emit` for the second of a group. */
function partsAfter(commands: readonly CommandSpec[]): Map<string, string[]> {
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
function cases(commands: readonly CommandSpec[]): { typed: string; words: string; options: string; values: string } {
  const words = [...partsAfter(commands), ...Object.entries(ARGUMENTS)]
  const options = commands.map(
    command =>
      `    ${single(command.name)}) options=${single([...command.options.map(longOf), '--help'].join(' '))} ;;`,
  )
  const values = commands.flatMap(({ name, options }) =>
    options.flatMap(option => {
      const flags = [longOf(option), shortOf(option)].filter(flag => flag !== undefined)
      return option.choices
        ? [
            `    ${flags.map(flag => single(`${name} ${flag}`)).join(' | ')}) words=${single(option.choices.join(' '))} ;;`,
          ]
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

function bash(commands: readonly CommandSpec[]): string {
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

function zsh(commands: readonly CommandSpec[]): string {
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

function fish(commands: readonly CommandSpec[]): string {
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
    const values = ARGUMENTS[command.name]
    if (values)
      add(`${when}; and not __fish_seen_subcommand_from ${values.join(' ')}`, `-f -a ${single(values.join(' '))}`)
    for (const option of command.options) {
      const short = shortOf(option)
      const value = option.choices ? ` -x -a ${single(option.choices.join(' '))}` : takesValue(option) ? ' -r' : ''
      add(
        when,
        `${short ? `-s ${short.slice(1)} ` : ''}-l ${longOf(option).slice(2)}${value} -d ${single(option.text)}`,
      )
    }
  }
  return `${lines.join('\n')}\n`
}
