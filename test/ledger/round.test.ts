import { describe, expect, test } from 'vitest'
import {
  leaveOut,
  nextStep,
  planRound,
  type Round,
  reachedOf,
  reportRound,
  roundCost,
  roundEntries,
  type Stop,
  tickRound,
} from '../../src/ledger/round.ts'
import { entry, time } from './notation.ts'

const stop = (mark: string, side?: string, floor = 0, along?: number, power: Stop['power'] = 'cell'): Stop => ({
  mark,
  name: mark,
  power,
  ...(side ? { at: { side, floor, ...(along === undefined ? {} : { along }) } } : {}),
})
const STOPS = [
  stop('X1'),
  stop('E1', 'east'),
  stop('S3', 'south', 1, 0.1),
  stop('S2', 'south', 0, 0.8),
  stop('S1', 'south', 0, 0.2),
  stop('D1', 'east', 0, 0.5, 'mains'),
]
const plan = (leaveOutNatural: boolean, overdue: readonly string[] = []) =>
  planRound({
    stops: STOPS,
    sides: ['south', 'east'],
    startedAt: time('18:00'),
    lastRoundAt: time('08:00'),
    provenAt: { S1: time('09:00'), S2: time('07:00'), E1: undefined },
    overdue: new Set(overdue),
    leaveOutNatural,
  })

describe('a walk round the house', () => {
  test('goes floor by floor, round the house, along each side; what has no place comes last', () => {
    expect(plan(false).steps.map(step => step.mark)).toEqual(['S1', 'S2', 'E1', 'D1', 'S3', 'X1'])
  })
  test('begins with what is overdue, in the same order', () => {
    expect(plan(false, ['E1', 'S3']).steps.map(step => step.mark)).toEqual(['E1', 'S3', 'S1', 'S2', 'D1', 'X1'])
  })
  test('says first what it costs the cells, mains nothing, left out nothing', () => {
    expect(roundCost(plan(false))).toBe(5)
    expect(roundCost(plan(true))).toBe(4)
  })
  test('an opening since the last walk counts as natural and can be left out', () => {
    expect(
      plan(true)
        .steps.filter(step => step.leftOut)
        .map(step => [step.mark, step.naturalAt]),
    ).toEqual([['S1', time('09:00')]])
    expect(nextStep(plan(true))?.mark).toBe('S2')
  })
  test('what somebody walks past is left out, and the tally has it as missing', () => {
    const round = leaveOut(tickRound(plan(false), entry('S1 18:01 opened L', 'e')), 'S2')
    expect(nextStep(round)?.mark).toBe('E1')
    expect(reportRound(round).leftOut.map(step => step.mark)).toEqual(['S2'])
    expect(roundEntries(round, time('18:30'), mark => mark).find(({ mark }) => mark === 'S2')?.text).toBe('unheard')
  })
  test('only a live word ticks, once', () => {
    const round = plan(false)
    for (const short of ['S1 18:01 opened R', 'S1 18:01 opened Q', 'S1 18:01 rest L', 'W99 18:01 opened L']) {
      expect(tickRound(round, entry(short, 'e'))).toBe(round)
    }
    const ticked = tickRound(round, entry('S1 18:01 opened L', 'e'))
    expect(ticked.steps[0]).toMatchObject({ mark: 'S1', heardAt: time('18:01') })
    expect(tickRound(ticked, entry('S1 18:02 opened L', 'f'))).toBe(ticked)
  })
  test('what somebody opened without a word is passed, and stands apart until that is taken back or it is heard', () => {
    const failed = tickRound(plan(false), entry('S1 18:01 failed L', 'f'))
    const marks = (round: typeof failed) => reportRound(round).failed.map(step => step.mark)
    expect(nextStep(failed)?.mark).toBe('S2')
    expect(marks(failed)).toEqual(['S1'])
    expect(reportRound(failed).missing).toHaveLength(6)
    // It was reached.
    expect(reportRound(failed).notReached.map(step => step.mark)).not.toContain('S1')
    const back = tickRound(failed, { ...entry('S1 18:02 undone L', 'u'), undoes: 'f' })
    expect([marks(back), nextStep(back)?.mark]).toEqual([[], 'S1'])
    expect(tickRound(failed, { ...entry('S1 18:02 undone L', 'u'), undoes: 'other' })).toBe(failed)
    expect(marks(tickRound(failed, entry('S1 18:03 opened L', 'o')))).toEqual([])
  })
  test('a contact on mains that stays silent does not hide the cell behind it', () => {
    const until = (word: string, marks: string[]) =>
      marks.reduce(
        (round, mark, n) => tickRound(round, entry(`${mark} 18:0${n} ${word} L`, `${word} ${n}`)),
        plan(false),
      )
    const { steps } = plan(false)
    expect(steps.map(step => step.mark)).toEqual(['S1', 'S2', 'E1', 'D1', 'S3', 'X1'])
    expect(reachedOf(plan(false))).toBe(0)
    expect(reachedOf(until('failed', ['S1']))).toBe(1)
    const atDoor = until('opened', ['S1', 'S2', 'E1'])
    expect([nextStep(atDoor)?.mark, reachedOf(atDoor)]).toEqual(['D1', 4])
    expect(reachedOf(until('opened', ['S1', 'S2', 'E1', 'D1', 'S3', 'X1'])), 'all of it').toBe(5)
  })
  test('reports what was heard, left out and missing, and leaves one entry an opening', () => {
    let round = plan(true)
    for (const mark of ['S2', 'S3', 'E1', 'D1']) round = tickRound(round, entry(`${mark} 18:01 opened L`, mark))
    expect(reportRound(round).missing.map(step => step.mark)).toEqual(['X1'])
    // The last one may not have been reached: nobody is to look for a fault there.
    expect(reportRound(round).notReached.map(step => step.mark)).toEqual(['X1'])
    expect(reportRound(round).done).toBe(false)
    expect(roundEntries(round, time('18:30'), mark => `r-${mark}`).map(one => [one.mark, one.what, one.text])).toEqual([
      ['S1', 'round', 'natural'],
      ['S2', 'round', 'heard'],
      ['E1', 'round', 'heard'],
      ['D1', 'round', 'heard'],
      ['S3', 'round', 'heard'],
      ['X1', 'round', 'unheard'],
    ])
    expect(reportRound(tickRound(round, entry('X1 18:40 opened L', 'x'))).done).toBe(true)
  })
  test('where a walk stood when it ended is unheard, what lay behind is missing', () => {
    const found = (round: Round) => roundEntries(round, time('18:30'), mark => mark).map(({ text }) => text)
    const begun = tickRound(plan(false), entry('S1 18:01 opened L', 'e'))
    expect(found(begun)).toEqual(['heard', 'unheard', 'missing', 'missing', 'missing', 'missing'])
    expect(found(plan(false)), 'nothing was heard: perhaps nobody walked').toEqual(new Array(6).fill('missing'))
    const failed = tickRound(plan(false), entry('S1 18:01 failed L', 'f'))
    expect(found(failed).slice(0, 3)).toEqual(['unheard', 'unheard', 'missing'])
  })
})
