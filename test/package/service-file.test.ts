import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, test } from 'vitest'

import { GROUPS } from '../../src/cli/commands.ts'
import { readGiven } from '../../src/cli/program/command.ts'
import { parserOf } from '../../src/cli/program/parser.ts'
import { needs, programPath } from '../support/missing.ts'
import { fakeWorld } from '../support/world.ts'

const haveSystemd = needs('systemd-analyze')
const file = fileURLToPath(new URL('../../examples/sashtally.service', import.meta.url))
const text = readFileSync(file, 'utf8')
const analyze = (...argv: string[]) => spawnSync(programPath('systemd-analyze')!, [...argv, file], { encoding: 'utf8' })
/** What is set, in order; a keyword may come more than once. */
const settings = [...text.matchAll(/^([A-Z]\w+)=(.*)$/gm)].map(([, key = '', value = '']) => [key, value] as const)
const settingOf = (key: string): string => settings.find(([each]) => each === key)?.[1] ?? ''

describe(haveSystemd.title('the unit file'), { skip: haveSystemd.skip }, () => {
  test('is exposed by less than 2 of 10, as systemd counts it', () => {
    const { stdout, stderr } = analyze('security', '--offline=true', '--no-pager')
    const exposure = Number(/Overall exposure level for sashtally\.service: (\S+)/.exec(stdout)?.[1])
    expect([exposure < 2, exposure, stderr]).toEqual([true, exposure, ''])
  })
  test('has no keyword that systemd does not know', () => {
    const { stdout, stderr } = analyze('verify', '--man=no')
    expect(stdout + stderr).not.toMatch(/Unknown|Failed to parse|Invalid/i)
  })
})

describe('the unit file and its own steps', () => {
  const steps = [...text.matchAll(/^# {3}(.*)$/gm)].map(([, step = '']) => step)
  /** Made by a step, by systemd itself, or by the system. */
  const isThere = (path: string): boolean =>
    steps.some(step => / install /.test(step) && step.split(/\s+/).includes(path)) ||
    path === `/var/lib/${settingOf('StateDirectory')}` ||
    /^\/(usr|lib|lib64|usr\/bin\/env)?$/.test(path)

  test('every path that it names is there after them', () => {
    const paths = settings
      .filter(([key]) => /^(ExecStart|ReadWritePaths|ExecPaths|NoExecPaths|LoadCredential)$/.test(key))
      .flatMap(([, value]) => value.split(/[\s:]+/))
      .map(word => word.replace(/^-/, ''))
      .filter(word => word.startsWith('/'))
    expect(paths.length).toBeGreaterThan(6)
    expect(paths.filter(path => !isThere(path))).toEqual([])
  })
  test('the package is copied: a link into a home folder could not be seen', () => {
    expect(steps[0]).toContain('npm install --global --install-links .')
    expect(settingOf('ProtectHome')).toBe('yes')
  })
  test('it runs a command that there is, with options that there are', () => {
    const argv = settingOf('ExecStart').split(' ')
    expect(argv.splice(0, 2)).toEqual(['/usr/bin/env', 'sashtally'])
    const ran: string[] = []
    parserOf(GROUPS, fakeWorld(), (command, typed) => {
      readGiven(command, typed)
      ran.push(command.name)
    }).parse(argv, { from: 'user' })
    expect(ran).toEqual(['serve'])
  })
})
