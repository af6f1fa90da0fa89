import * as z from 'zod/mini'
import { fittingJson } from './fitting.ts'
import { map, mark, oneOf, only, optional, type Plain, some, text, time } from './parts.ts'

/** A keeper says that it works this often. */
export const BEAT_MILLISECONDS = 30_000
/** A keeper of which no beat was heard for this long is taken for gone. */
export const GONE_AFTER_MILLISECONDS = 3 * BEAT_MILLISECONDS

/**
 * What is wrong with a keeper, in a word; `problem` says it in sentences.
 * Of the family: `not-kept` no entry is, `disk` soon none will be; `forecast` no cell can be judged by its silence; `store` some may be damaged; `register` it was changed and has errors; `silent` its readings cannot go out; `deaf` contacts that it may not hear;
 * `session`, `queue`, `older`, `seal` words were missed; `boots` a module started oftener than was heard; `clock` it was
 * set, by so many seconds, or (without) is wrong. The others are for who built it.
 */
export const KEEPER_PROBLEMS = [
  'not-kept',
  'silent',
  'deaf',
  'session',
  'queue',
  'older',
  'seal',
  'boots',
  'clock',
  'foreign',
  'register',
  'restart',
  'recount',
  'alerts',
  'backup',
  'store',
  'disk',
  'forecast',
] as const
export type KeeperProblemCode = (typeof KEEPER_PROBLEMS)[number]

const MOST_PROBLEMS = 20
/** Most openings that a problem names. */
export const MOST_MARKS = 100

const problemSchema = map({
  code: oneOf(KEEPER_PROBLEMS),
  /** Of which openings. */
  marks: optional(some(mark, MOST_MARKS)),
  /** When it happened, or from when to when. */
  from: optional(time),
  to: optional(time),
  /** By how much a clock was set forward; below 0: back. */
  seconds: optional(z.number('must be a number')),
})

export interface KeeperProblem extends Plain<typeof problemSchema> {}

/** The figures of a problem. */
export type Figures = Omit<KeeperProblem, 'code'>

export const keeperSchema = map({
  v: only(1),
  state: oneOf(['live', 'gone', 'broken']),
  /** The keeper's clock at its last beat. */
  beat: time,
  /** Start of the present state. */
  since: time,
  problem: optional(text()),
  /** The same in codes and figures, for who puts it into words. */
  problems: optional(some(problemSchema, MOST_PROBLEMS)),
})

/** State of the keeper. */
export interface KeeperNote extends Plain<typeof keeperSchema> {}

/** The keeper's state from `keeper`; undefined when it does not fit. */
export const parseKeeper = (text: string): KeeperNote | undefined => fittingJson(keeperSchema, text)
