import type { Definition } from '../program/command.ts'
import { alikeOf } from './completion-alike.ts'

const UNQUOTED = `\${file//[\\\\\\'\\"]/}`

export function bash(commands: readonly Definition[]): string {
  const { walk, offers } = alikeOf(commands, UNQUOTED)
  return `# bash completion for sashtally
_sashtally() {
  local current=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]}
  local typed='' offers='' marks='' options='' skip='' file='' place=0 i word
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=\${COMP_WORDS[i]}
${walk}
  done
${offers}
  if [[ $current == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$current")
  elif [[ -n $offers ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$offers" -- "$current")
  else
    compopt -o filenames 2> /dev/null
    mapfile -t COMPREPLY < <(compgen -f -- "$current")
  fi
}
complete -F _sashtally sashtally
`
}
