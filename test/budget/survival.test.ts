import { expect, it } from 'vitest'
import { survivalSteps } from '../../src/budget/lives/survival.ts'

it('the leukaemia remission times of Freireich et al. 1963 give the published steps', () => {
  // 6-MP arm, 21 patients (Kalbfleisch & Prentice, table 1.1; figures from memory): 0.857 at 6 to 0.448 at 23 weeks
  const lives = [
    ...[6, 6, 6, 7, 10, 13, 16, 22, 23].map(failedAt => ({ failedAt })),
    ...[6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35].map(runningAt => ({ runningAt })),
  ]
  const steps = survivalSteps(lives).map(([at, share]) => `${at}: ${share.toFixed(3)}`)
  expect(steps).toEqual([
    '0: 1.000',
    '6: 0.857',
    '7: 0.807',
    '10: 0.753',
    '13: 0.690',
    '16: 0.627',
    '22: 0.538',
    '23: 0.448',
  ])
})

it('a life between two tries ends after its last word', () => {
  expect(survivalSteps([{ failedBetween: [4, 5] }, { runningAt: 4 }])).toEqual([
    [0, 1],
    [4, 0.5],
  ])
})
