import type { Definition } from '../program/command.ts'
import { casesOf, walkOf } from './completion-bash.ts'
import { MARKS_BY_SED, single } from './completion-words.ts'

export function zsh(commands: readonly Definition[]): string {
  const cases = casesOf(commands)
  return `#compdef sashtally
_sashtally() {
  local before=\${words[CURRENT-1]} current=\${words[CURRENT]}
  local typed='' offers='' marks='' options='' skip='' file='' place=0 word
  for word in \${words[2,CURRENT-1]}; do
${walkOf(cases)}
  done
  case "$typed $place" in
${cases.words}
  esac
  case "$typed" in
${cases.options}
  esac
  case "$typed $before" in
${cases.values}
  esac
  file=\${(Q)file}
  [[ -z $marks || ! -f $file ]] || offers="$offers $(sed -n ${single(MARKS_BY_SED)} -- "$file")"
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
