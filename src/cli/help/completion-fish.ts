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

export function fish(commands: readonly Definition[]): string {
  const lines = [head(commands)]
  const parts = partsAfter(commands)
  const add = (when: string, rest: string): void => void lines.push(`complete -c sashtally -n ${single(when)} ${rest}`)
  for (const word of parts.get('') ?? []) {
    const own = commands.find(({ name }) => name === word)
    const says = own?.summary ?? `One of: ${parts.get(word)?.join(', ')}.`
    add('__fish_use_subcommand', `-f -a ${word} -d ${single(says)}`)
  }
  const arguments_ = argumentOffers(commands)
  const values = optionOffers(commands)
  for (const command of commands) {
    const [first = '', second] = command.name.split(' ')
    const when = `__sashtally_rest ${single(command.name)} > /dev/null`
    if (second) {
      const none = `__fish_seen_subcommand_from ${first}; and not __fish_seen_subcommand_from ${parts.get(first)?.join(' ')}`
      add(none, `-f -a ${second} -d ${single(command.summary)}`)
    }
    for (const offer of arguments_.filter(each => each.command === command.name)) {
      const count = offer.isLast ? `-ge ${offer.place}` : `= ${offer.place}`
      add(`${when}; and test (count (__sashtally_rest ${single(command.name)})) ${count}`, `-f -a ${offered(offer)}`)
    }
    for (const [name, { short, value, text }] of Object.entries(command.options)) {
      const offer = values.find(each => each.command === command.name && each.flags[0] === longOf(name))
      const takes = offer ? ` -x -a ${offered(offer)}` : value === undefined ? '' : ' -r'
      add(when, `${short ? `-s ${short} ` : ''}-l ${longOf(name).slice(2)}${takes} -d ${single(text)}`)
    }
  }
  return `${lines.join('\n')}\n`
}

const offered = ({ command, words, hasMarks }: Offer): string =>
  single([...words, ...(hasMarks ? [`(__sashtally_marks (__sashtally_rest ${single(command)}))`] : [])].join(' '))

/** Functions that tell what stands before the word that is being typed. */
const head = (commands: readonly Definition[]): string => `# fish completion for sashtally
function __sashtally_rest -d 'the arguments of a command so far; fails where another command was typed'
    set -l typed
    set -l rest
    set -l skip
    for word in (commandline -opc)[2..-1]
        if test -n "$skip"
            set skip
        else if contains -- "$typed $word" ${valuedOptions(commands).map(single).join(' ')}
            set skip yes
        else if string match -q -- '-*' $word
            continue
        else if test "$typed" = "$argv[1]"
            set -a rest $word
        else
            set typed (string trim -- "$typed $word")
        end
    end
    test "$typed" = "$argv[1]"
    or return 1
    string join \\n -- $rest
    return 0
end
function __sashtally_marks -d 'the marks in the register that is the first argument'
    test -f "$argv[1]"
    and sed -n ${single(MARKS_BY_SED)} -- $argv[1]
end`
