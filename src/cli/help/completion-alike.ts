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

/** What bash and zsh read alike, each as lines of shell text. */
export interface Alike {
  /** Inside a loop over the words before the one that is being typed: takes `word` into what was typed so far. */
  readonly walk: string
  /** After it: what may stand here, in `offers` and `options`. */
  readonly offers: string
}

/** @param unquoted - shell text that takes the quotes off `file`: each shell has its own */
export function alikeOf(commands: readonly Definition[], unquoted: string): Alike {
  const { typed, words, values, options, valued } = casesOf(commands)
  return {
    walk: `    case "\${typed:+$typed }$word" in
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
    esac`,
    offers: `  case "$typed $place" in
${words}
  esac
  case "$typed" in
${options}
  esac
  case "$typed $before" in
${values}
  esac
  file=${unquoted}
  [[ -z $marks || ! -f $file ]] || offers="$offers $(sed -n ${single(MARKS_BY_SED)} -- "$file")"`,
  }
}

interface Cases {
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

function casesOf(commands: readonly Definition[]): Cases {
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
