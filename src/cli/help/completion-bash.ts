import type { Definition } from '../program/command.ts'
import { longOf } from '../program/option.ts'
import {
  argumentOffers,
  MARKS_BY_SED,
  type Offer,
  optionOffers,
  partsAfter,
  single,
  valuedOptions,
} from './completion-words.ts'

/** Cases that bash and zsh read alike. */
export interface Cases {
  /** Takes the next word into what has been typed. */
  readonly typed: string
  /** What may follow, by command and place: sets `offers` and `marks`. */
  readonly words: string
  /** What the value of an option may be: sets `offers` and `marks`. */
  readonly values: string
  /** Sets `options`. */
  readonly options: string
  /** Pattern of the options that take a value. */
  readonly valued: string
}

export function casesOf(commands: readonly Definition[]): Cases {
  const once = (lines: readonly string[]): string => [...new Set(lines)].join('\n')
  const offered = ({ words, hasMarks }: Offer): string =>
    `offers=${single(words.join(' '))}${hasMarks ? ' marks=yes' : ''}`
  const parts = [...partsAfter(commands)].map(
    ([after, next]) => `    ${single(`${after} 0`)}) offers=${single(next.join(' '))} ;;`,
  )
  return {
    typed: once(
      commands
        .flatMap(({ name }) => [name.split(' ')[0] ?? '', name])
        .map(name => `      ${single(name)}) typed="\${typed:+$typed }$word"; continue ;;`),
    ),
    words: once([
      ...parts,
      ...argumentOffers(commands).map(
        offer =>
          `    ${single(`${offer.command} ${offer.place}`)}${offer.isLast ? ` | ${single(`${offer.command} `)}[1-9]*` : ''}) ${offered(offer)} ;;`,
      ),
    ]),
    values: once(
      optionOffers(commands).map(
        offer => `    ${offer.flags.map(flag => single(`${offer.command} ${flag}`)).join(' | ')}) ${offered(offer)} ;;`,
      ),
    ),
    options: once(
      commands.map(
        ({ name, options }) =>
          `    ${single(name)}) options=${single([...Object.keys(options).map(longOf), '--help'].join(' '))} ;;`,
      ),
    ),
    valued: valuedOptions(commands).map(single).join(' | '),
  }
}

/** Reads the words before the one that is being typed; both shells walk them alike. */
export const walkOf = ({ typed, valued }: Cases): string => `    case "\${typed:+$typed }$word" in
${typed}
    esac
    if [[ -n $skip ]]; then
      skip=''
      continue
    fi
    case "$typed $word" in
      ${valued}) skip=yes ;;
      *' -'*) ;;
      *) [[ -z $typed ]] || { place=$((place + 1)); [[ $place -gt 1 ]] || file=$word; } ;;
    esac`

export function bash(commands: readonly Definition[]): string {
  const cases = casesOf(commands)
  return `# bash completion for sashtally
_sashtally() {
  local current=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]}
  local typed='' offers='' marks='' options='' skip='' file='' place=0 i word
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=\${COMP_WORDS[i]}
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
  file=\${file//[\\\\\\'\\"]/}
  [[ -z $marks || ! -f $file ]] || offers="$offers $(sed -n ${single(MARKS_BY_SED)} -- "$file")"
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
