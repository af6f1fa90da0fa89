import { define } from '../program/command.ts'
import { oneOf } from '../program/kinds.ts'
import { argument, flag } from '../program/option.ts'

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

export const manual = define({
  name: 'manual',
  summary: 'Print the page of all commands as Markdown.',
  args: {},
  options: { man: flag({ text: 'as a manual page for man(1)' }) },
  examples: ['sashtally manual', 'sashtally manual --man'],
})
