import { COMMANDS } from './commands.ts'
import { type CommandSpec, EXIT } from './world.ts'

export const SHELLS = ['bash', 'zsh', 'fish'] as const

export const completionCommand: CommandSpec = {
  name: 'completion',
  args: '<shell>',
  summary: `Print completion for a shell: ${SHELLS.join(', ')}.`,
  options: [],
  examples: ['sashtally completion bash > ~/.local/share/bash-completion/completions/sashtally'],
  async run({ args: [shell = ''] }, world) {
    const make = { bash, zsh, fish }[shell as (typeof SHELLS)[number]]
    if (!make) {
      world.stderr.write(`sashtally: a shell is one of ${SHELLS.join(', ')}; found ${JSON.stringify(shell)}\n`)
      return EXIT.usage
    }
    world.stdout.write(make(COMMANDS))
    return EXIT.fine
  },
}

/** Long options of a command, help included. */
const optionsOf = ({ options }: CommandSpec): string[] => [
  ...options.flatMap(({ flags }) => /--[a-z-]+/.exec(flags) ?? []),
  '--help',
]

/** Words that may follow what has been typed: '' for the first, `emit` for the second of a group. */
function tree(commands: readonly CommandSpec[]): Map<string, string[]> {
  const next = new Map<string, string[]>()
  const add = (after: string, word: string): void => {
    const words = next.get(after) ?? []
    if (!words.includes(word)) next.set(after, [...words, word])
  }
  for (const { name } of commands) {
    const words = name.split(' ')
    words.forEach((word, index) => void add(words.slice(0, index).join(' '), word))
  }
  return next
}

const single = (text: string): string => `'${text.replaceAll("'", "'\\''")}'`

function bash(commands: readonly CommandSpec[]): string {
  const cases = [
    ...[...tree(commands)].map(([after, words]) => [after, words] as const),
    ...commands.map(command => [command.name, optionsOf(command)] as const),
  ].map(([after, words]) => `    ${single(after)}) words=${single(words.join(' '))} ;;`)
  return `# bash completion for sashtally
_sashtally() {
  local current=\${COMP_WORDS[COMP_CWORD]} typed='' words='' i word
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=\${COMP_WORDS[i]}
    case "\${typed:+$typed }$word" in
${[...new Set(commands.flatMap(({ name }) => [name.split(' ')[0]!, name]))].map(name => `      ${single(name)}) typed="\${typed:+$typed }$word" ;;`).join('\n')}
    esac
  done
  case "$typed" in
${cases.join('\n')}
  esac
  if [[ -n $typed && $current != -* && $words == *--help* ]]; then
    COMPREPLY=($(compgen -f -- "$current"))
  else
    COMPREPLY=($(compgen -W "$words" -- "$current"))
  fi
}
complete -o filenames -F _sashtally sashtally
`
}

function zsh(commands: readonly CommandSpec[]): string {
  const cases = [
    ...[...tree(commands)].map(([after, words]) => [after, words] as const),
    ...commands.map(command => [command.name, optionsOf(command)] as const),
  ].map(([after, words]) => `    ${single(after)}) choices=(${words.map(single).join(' ')}) ;;`)
  return `#compdef sashtally
_sashtally() {
  local typed='' word
  local -a choices
  for word in \${words[2,CURRENT-1]}; do
    case "\${typed:+$typed }$word" in
${[...new Set(commands.flatMap(({ name }) => [name.split(' ')[0]!, name]))].map(name => `      ${single(name)}) typed="\${typed:+$typed }$word" ;;`).join('\n')}
    esac
  done
  case "$typed" in
${cases.join('\n')}
  esac
  compadd -- $choices
  [[ -n $typed ]] && _files
}
compdef _sashtally sashtally
`
}

function fish(commands: readonly CommandSpec[]): string {
  const lines = ['# fish completion for sashtally', 'complete -c sashtally -n __fish_use_subcommand -f']
  const seen = new Set<string>()
  for (const command of commands) {
    const [first = '', second] = command.name.split(' ')
    if (!seen.has(first)) {
      seen.add(first)
      const about = second ? `parts of ${first}` : command.summary
      lines.push(`complete -c sashtally -n __fish_use_subcommand -a ${first} -d ${single(about)}`)
    }
    const when = second
      ? `'__fish_seen_subcommand_from ${first}; and __fish_seen_subcommand_from ${second}'`
      : `'__fish_seen_subcommand_from ${first}'`
    if (second) {
      lines.push(
        `complete -c sashtally -n '__fish_seen_subcommand_from ${first}' -a ${second} -d ${single(command.summary)}`,
      )
    }
    for (const { flags, text } of command.options) {
      const long = /--([a-z-]+)/.exec(flags)?.[1]
      if (long)
        lines.push(`complete -c sashtally -n ${when} -l ${long}${flags.includes('<') ? ' -r' : ''} -d ${single(text)}`)
    }
  }
  return `${lines.join('\n')}\n`
}
