import type { BudgetSender, LoadPhase } from './types.ts'

/** What the budget needs of one opening of a register. */
export interface OpeningFacts {
  readonly sender: {
    readonly power: 'cell' | 'mains'
    readonly reports: 'openings' | 'both'
    readonly cell?: string
    readonly load?: string | readonly LoadPhase[]
  }
  readonly settings: {
    readonly openingsPerYear?: number
    readonly openMinutes?: number
    readonly temperatureCelsius?: number
    readonly lampMilliamps?: number
    readonly resetVolts?: number
  }
}

const MINUTES_A_YEAR = 525_960

/**
 * The sender of one opening on a cell, for `eventBudget`. A contact that reports both edges from a cell sends twice
 * and sleeps on the cell all year.
 * @returns undefined on mains: there is no budget
 */
export function budgetSenderOf(opening: OpeningFacts): BudgetSender | undefined {
  const { sender, settings } = opening
  if (sender.power === 'mains') return undefined
  const both = sender.reports === 'both'
  const rate = settings.openingsPerYear
  return {
    cell: sender.cell,
    load: sender.load,
    openingsPerYear: rate,
    openMinutes: both && rate ? MINUTES_A_YEAR / rate : settings.openMinutes,
    temperatureCelsius: settings.temperatureCelsius,
    lampMilliamps: settings.lampMilliamps,
    resetVolts: settings.resetVolts,
    ...(both ? { sendsPerOpening: 2 } : {}),
  }
}
