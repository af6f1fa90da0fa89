import type { Definition } from '../program/command.ts'
import { alikeOf } from './completion-alike.ts'

const UNQUOTED = `\${(Q)file}`

export function zsh(commands: readonly Definition[]): string {
  const { walk, offers } = alikeOf(commands, UNQUOTED)
  return `#compdef sashtally
_sashtally() {
  local before=\${words[CURRENT-1]} current=\${words[CURRENT]}
  local typed='' offers='' marks='' options='' skip='' file='' place=0 word
  for word in \${words[2,CURRENT-1]}; do
${walk}
  done
${offers}
  if [[ $current == -* ]]; then
    compadd -- \${=options}
  elif [[ -n $offers ]]; then
    compadd -- \${=offers}
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
