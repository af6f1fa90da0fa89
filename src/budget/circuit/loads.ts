import { checkLoad } from '../check.ts'
import { must } from '../must.ts'
import type { Figure, LoadModel, LoadPhase } from '../types.ts'

const MEAN_CURRENT: Figure = {
  name: 'current while awake',
  value: 75,
  unit: 'mA',
  status: 'assumption',
  source:
    'equivalent mean current, no bursts; between modem-sleep (13 to 28 mA) and receive (84 to 87 mA), ESP32-C3 Series Datasheet v2.4, Tables 5-7 and 5-8',
}
const SPLIT: Figure = {
  name: 'boot and publish within the time awake',
  value: 0.3,
  unit: 's boot',
  status: 'assumption',
  source: 'changes only how the charge is shown, never the budget',
}
const timing = (milliseconds: number, text: string): Figure => ({
  name: 'time awake',
  value: milliseconds,
  unit: 'ms',
  status: 'published',
  source: `J. Mueller, timing of the Wi-Fi join of a small module, with the code, 2022: ${text}`,
})

function load(
  name: string,
  phases: readonly (readonly [name: string, milliseconds: number])[],
  figure: Figure,
  note: string,
): LoadModel {
  return {
    name,
    phases: phases.map(([phase, milliseconds]) => ({ name: phase, milliamps: MEAN_CURRENT.value, milliseconds })),
    figures: [MEAN_CURRENT, figure, ...(phases[0]![0] === 'boot' ? [SPLIT] : [])],
    note,
  }
}

/** Built-in loads, slowest first. */
export const LOADS: readonly LoadModel[] = [
  load(
    'cold-join',
    [
      ['boot', 300],
      ['join', 3600],
      ['publish', 100],
    ],
    timing(4000, '4001 ms with scan and address lease; 3.5 to 4 s from power to message is common practice'),
    'scan, join and address lease at every opening',
  ),
  load(
    'cached-join',
    [
      ['boot', 300],
      ['join', 860],
      ['publish', 100],
    ],
    timing(1260, '1259 ms with channel, access point and address cached'),
    'channel, access point and address are kept: a changed router or channel needs the module flashed again',
  ),
  load(
    'fast-join',
    [
      ['join', 120],
      ['publish', 50],
    ],
    timing(170, '168 ms once channel, access point and address are kept in flash'),
    'the boot is not in it: measure your module and give phases of your own before you rely on it',
  ),
]

/** @throws RangeError for a name that is not built in */
export function loadNamed(name: string): LoadModel {
  const found = LOADS.find(model => model.name === name)
  must(found !== undefined, 'load', name, `one of ${LOADS.map(model => model.name).join(', ')}, or a list of phases`)
  return found as LoadModel
}

/** Phases of a built-in name, or the phases given; both checked. */
export function phasesOf(given: string | readonly LoadPhase[]): readonly LoadPhase[] {
  if (typeof given === 'string') return loadNamed(given).phases
  checkLoad(given)
  return given
}
