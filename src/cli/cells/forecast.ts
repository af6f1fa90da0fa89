import { fitLifetimes } from '../../budget/lives/fit-lifetimes.ts'
import { emptyDays, livesOf } from '../../house/forecast.ts'
import type { Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { writeTold } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { ForecastJson } from '../json/cells.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import { type CellForecast, cellForecasts } from './cell-forecasts.ts'
import type * as commands from './commands.ts'
import { toldLimit } from './forecast-limit.ts'
import { forecastTable } from './forecast-table.ts'
import { type KindLives, livesByKind } from './lives.ts'
import { survivalPlot } from './survival-plot.ts'

export async function run({ args: { file }, options }: Given<typeof commands.forecast>, world: World): Promise<Exit> {
  const { acceptDays: accept, figures, sender, plot } = options
  const register = await readRegister(file, world)
  const now = world.now()
  const ledger = await readTally(tallyPathOf(options), register, world, tally => tally.ledger())
  const lives = livesOf(register, ledger, now)
  const rows = cellForecasts(register, ledger, lives, accept, now)
  const kinds = livesByKind(register, lives.cells)
  const empty = emptyDays(lives, ledger, now)
  if (plot !== undefined) await writeTold(plot, plotKind(register, kinds, sender), world)
  world.stdout.write(
    options.json
      ? jsonText({ ...jsonOf(register, rows, kinds, now), emptyDays: empty })
      : forecastTable(register, rows, kinds, { accept, figures, emptyDays: empty }),
  )
  return EXIT.fine
}

function plotKind(register: Register, kinds: readonly KindLives[], sender: string | undefined): string {
  if (sender !== undefined && !Object.hasOwn(register.senders, sender)) {
    const names = Object.keys(register.senders).join(', ')
    throw new Stop(EXIT.usage, `--sender: the register has no sender "${sender}"; it has ${names}`)
  }
  const marks = new Set(
    register.openings.filter(o => sender === undefined || o.sender.name === sender).map(o => o.mark),
  )
  const kind = kinds.find(({ marks: own }) => own.some(mark => marks.has(mark)))
  if (!kind) throw new Stop(EXIT.input, 'there is no cell to plot: no opening on a cell that the model knows')
  return survivalPlot(kind)
}

function jsonOf(
  register: Register,
  rows: readonly CellForecast[],
  kinds: readonly KindLives[],
  now: number,
): ForecastJson {
  return {
    house: register.house,
    asOf: iso(now),
    openings: rows.map(({ opening, reading, left, proof, slowJoin, sentBefore, limit }) => ({
      mark: opening.mark,
      name: opening.name,
      doubts: reading.doubts,
      openings: reading.openings,
      sends: reading.sends,
      countedSince: reading.countedSince,
      sentBefore: sentBefore !== undefined,
      ...(left
        ? {
            left: left.left,
            alive: left.alive,
            next: left.next,
            untilLow: left.neverLow ? undefined : left.untilLow,
            neverLow: left.neverLow,
            countOn: left.countOn,
            changeBy: left.changeBy === undefined ? undefined : iso(left.changeBy),
            silence: left.silence,
            atLeast: left.atLeast,
            restsOn: left.restsOn,
          }
        : {}),
      ...(limit ? { limit: toldLimit(limit) } : {}),
      slowJoin,
      proof,
    })),
    kinds: kinds.map(({ label, modelMedian, countKnown, atLeast, lives, scaled, marks }) => ({
      label,
      modelMedian,
      countKnown,
      ...(atLeast ? { atLeast } : {}),
      marks,
      lives,
      ...(scaled ? { scaled } : {}),
      fit: fitLifetimes(lives),
    })),
  }
}
