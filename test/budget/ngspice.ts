import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { programPath } from '../support/missing.ts'
import { type Case, deck } from './circuits.ts'

export interface Measured {
  readonly minimumVolts: number
  readonly endVolts: number
  readonly chargeMillicoulombs: number
}

/** What Debian's ngspice prints of one file, batch mode. */
function printed(path: string): { readonly stdout: string; readonly stderr: string } {
  const ran = spawnSync(programPath('ngspice') ?? 'ngspice', ['-b', path], {
    encoding: 'utf8',
    maxBuffer: 1 << 26,
    timeout: 300_000,
  })
  if (ran.error) throw ran.error
  return ran
}

/** What each `meas` of one circuit found, by its name. */
export function measuredBy(lines: readonly string[]): ReadonlyMap<string, number> {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-ngspice-'))
  try {
    const path = join(folder, 'one.cir')
    writeFileSync(path, `${lines.join('\n')}\n.end\n`)
    const found = [...printed(path).stdout.matchAll(/^(\w+)\s*=\s*([-+.\de]+)/gm)]
    return new Map(found.map(([, name, value]) => [name!, Number(value)]))
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** Runs many circuits in one process. */
export function ngspice(cases: readonly Case[]): Measured[] {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-ngspice-'))
  try {
    const script = ['* all', '.control', 'set noaskquit']
    cases.forEach((one, index) => {
      const { lines, seconds, step } = deck(one)
      const path = join(folder, `${index}.cir`)
      writeFileSync(path, `${lines.join('\n')}\n.options reltol=2e-5 abstol=1e-9 vntol=1e-7\n.end\n`)
      script.push(
        `source ${path}`,
        `tran ${step} ${seconds} 0 ${step} uic`,
        `meas tran least MIN v(m) from=0 to=${seconds}`,
        `meas tran charge INTEG i(Vcell) from=0 to=${seconds}`,
        `meas tran last FIND v(m) AT=${seconds - 1e-9}`,
        'destroy all',
        'remcirc',
      )
    })
    script.push('quit', '.endc', '.end')
    const path = join(folder, 'all.sp')
    writeFileSync(path, `${script.join('\n')}\n`)
    const ran = printed(path)
    const found = (name: string): number[] =>
      [...ran.stdout.matchAll(new RegExp(`^${name}\\s*=\\s*([-+.\\de]+)`, 'gm'))].map(match => Number(match[1]))
    const [least, charge, last] = [found('least'), found('charge'), found('last')]
    if (least.length !== cases.length || charge.length !== cases.length || last.length !== cases.length) {
      throw new Error(`ngspice answered ${least.length} of ${cases.length}: ${ran.stderr.slice(0, 2000)}`)
    }
    return cases.map((_, index) => ({
      minimumVolts: least[index] ?? Number.NaN,
      endVolts: last[index] ?? Number.NaN,
      chargeMillicoulombs: -(charge[index] ?? Number.NaN) * 1000,
    }))
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
