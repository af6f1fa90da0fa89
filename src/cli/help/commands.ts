import { define } from '../program/command.ts'
import { oneOf } from '../program/kinds.ts'
import { argument, argumentOr, flag } from '../program/option.ts'

export const SHELLS = ['bash', 'zsh', 'fish'] as const

export const completion = define({
  name: 'completion',
  summary: `Print completion for a shell: ${SHELLS.join(', ')}.`,
  args: { shell: argument(oneOf(SHELLS)) },
  options: {},
  examples: [
    'sashtally completion bash > ~/.local/share/bash-completion/completions/sashtally',
    'sashtally completion zsh > ~/.zfunc/_sashtally',
    'sashtally completion fish > ~/.config/fish/completions/sashtally.fish',
  ],
})

/** Pages of `src/manual`, in the order in which a person needs them; the first is made from the table of commands. */
export const PAGES = [
  'commands',
  'register',
  'contact',
  'fitting',
  'keeper',
  'houses',
  'cluster',
  'alerts',
  'wall',
  'readings',
  'hub',
  'homie',
  'forecast',
] as const

export const manual = define({
  name: 'manual',
  summary: `Print a page of the manual as Markdown: ${PAGES.join(', ')}.`,
  args: { page: argumentOr('commands', oneOf(PAGES)) },
  options: {
    pages: flag({ text: 'list the pages, each with its title' }),
    man: flag({ text: 'the commands as a manual page for man(1)' }),
  },
  examples: ['sashtally manual', 'sashtally manual fitting', 'sashtally manual --pages', 'sashtally manual --man'],
})
