// What the advice is worth: four years of houses in worlds where the truth is known, by four policies; then how often
// the ranges of nine in ten hold, and how wide they are. No times are measured: this takes some minutes.
import { register } from 'node:module'

register('./typescript-loader.mjs', import.meta.url)

const YEARS = 4
/** The aim is one of the prior's own world: twelve houses are too few to tell it from chance. */
const HOUSES = Number(process.env.SASHTALLY_HOUSES ?? 48)
/** In each of the other worlds, so that all of it ends within the hour. */
const ELSEWHERE = Math.min(HOUSES, 12)
const AIM = { cells: 2.2, tests: 2, deadDays: 24 }
const COVERED = 100

const figure = (value, digits) => value.toFixed(digits).padStart(7)

export async function run() {
  const { startHouse, WORLDS } = await import('../budget/houses.ts')
  const { ADVICE, everySends, KNOWING, meanOf, play, WAITING } = await import('../budget/policies.ts')
  const { coverageOf } = await import('../budget/held.ts')

  console.log(`for each opening and year, in houses of 12 openings and ${YEARS} years`)
  for (const world of WORLDS) {
    const houses = world === WORLDS[0] ? HOUSES : ELSEWHERE
    console.log(
      `\n${world.name}, ${houses} houses\n${''.padEnd(20)}  cells  tests  dead days unnoticed  openings missed`,
    )
    for (const policy of [ADVICE, everySends(15), WAITING, KNOWING]) {
      const outcomes = Array.from({ length: houses }, (_, h) => play(startHouse(world, 9000 + h), policy, YEARS))
      const mean = meanOf(outcomes)
      const { cells, tests, deadDays, missed } = mean
      console.log(
        `${policy.name.padEnd(20)}${figure(cells, 2)}${figure(tests, 2)}${figure(deadDays, 1).padStart(14)}${figure(missed, 2).padStart(18)}`,
      )
      if (world !== WORLDS[0] || policy !== ADVICE) continue
      const isMet = Object.entries(AIM).every(([what, most]) => mean[what] <= most)
      console.log(
        `  (aim: at most ${AIM.deadDays} days, ${AIM.cells} cells and ${AIM.tests} tests) ${isMet ? 'ok' : 'MISSED'}`,
      )
    }
  }

  console.log(`\nranges of nine in ten in ${COVERED} houses: rows that hold, mean width in openings`)
  for (const world of WORLDS) {
    const { held, width } = coverageOf(world, COVERED)
    const aim = world === WORLDS[0] ? 0.86 : 0.8
    console.log(
      `${world.name.padEnd(26)}${figure(100 * held, 0)} %${figure(width, 1)}  (aim: at least ${100 * aim} %) ${held >= aim ? 'ok' : 'MISSED'}`,
    )
  }
}
