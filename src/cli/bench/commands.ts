import { define } from '../program/command.ts'
import { number, oneOf, path, text } from '../program/kinds.ts'
import { argument, flag, inputFile, manyArguments, option } from '../program/option.ts'
import { TALLY_OPTIONS } from '../store/options.ts'
import { FAULT_NAMES } from './rehearse-faults.ts'

export const prove = define({
  name: 'prove',
  summary: 'Prove one contact: open it, watch its words, and get a verdict with the likely causes of what failed.',
  args: { file: inputFile, mark: argument() },
  options: {
    power: option(oneOf(['bench', 'cell']), { value: 'source', text: 'what feeds it now', fallback: 'bench' }),
    times: option(number({ least: 1, most: 20, isWhole: true }), {
      value: 'number',
      text: 'openings to ask for; from the second on, the last confirms the client id',
      fallback: '2',
    }),
    ...TALLY_OPTIONS,
    json: flag({ text: 'print what was seen and the verdict as JSON' }),
  },
  examples: [
    'sashtally prove examples/ropewalk.yaml W07 --tally tally.jsonl',
    'sashtally prove examples/ropewalk.yaml W07 --power cell --times 3',
  ],
  next: 'sashtally manual fitting; prove it once more where it sits',
  account: 'bench',
})

export const round = define({
  name: 'round',
  summary: 'Walk round the house: open each in turn and see it ticked as it arrives live.',
  args: { file: inputFile },
  options: {
    leaveOutNatural: flag({ text: 'leave out what was opened in daily use since the last walk (needs a tally)' }),
    minutes: option(number(), { value: 'number', text: 'end after this long', fallback: '60' }),
    yes: flag({ text: 'do not ask before it starts' }),
    ...TALLY_OPTIONS,
    json: flag({ text: 'print the report as JSON' }),
  },
  examples: [
    'sashtally round examples/ropewalk.yaml --tally tally.jsonl',
    'sashtally round examples/ropewalk.yaml --tally tally.jsonl --leave-out-natural',
  ],
  next: 'sashtally forecast says which cell to change',
  account: 'bench',
})

export const rehearse = define({
  name: 'rehearse',
  summary:
    'Play contacts of the register on your own broker, exactly as their headers say: hub and wall can be tried before anything is soldered.',
  args: { file: inputFile, mark: manyArguments(text) },
  options: {
    fault: option(oneOf(FAULT_NAMES), { value: 'fault', text: 'what goes wrong with them' }),
    minutes: option(number({ most: 1_440 }), { value: 'number', text: 'end after this long', fallback: '10' }),
    private: option(path, {
      value: 'file',
      text: 'the private.h that holds the contacts’ passwords, where the broker asks for them',
    }),
    yes: flag({ text: 'without a keeper that puts them on test: do not ask before walls count what is played' }),
  },
  examples: [
    'sashtally rehearse examples/ropewalk.yaml W07 D01',
    'sashtally rehearse examples/ropewalk.yaml W07 --fault dead-cell --minutes 2',
  ],
  next: 'sashtally emit firmware makes what is flashed',
  account: 'bench',
})
