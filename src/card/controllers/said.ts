import { MINUTE } from '../../text/time.ts'
import { type Deed, sayDeed, startDeed, undoDeed, type Ways } from '../state/deeds.ts'

/** What was said stays on the sheet this long, with its way back. */
const DEED_MILLISECONDS = 5 * MINUTE
/** The same said again this soon is a second tap. */
const TWICE_MILLISECONDS = 1_000

export interface Telling {
  now(): number
  ways(): Ways
  cellOf(mark: string): string | undefined
}

/** What a person said on the sheet: what is on its way, how it went, and what is ticked for it. */
export class Said {
  ticked: ReadonlySet<string> = new Set()
  /** Of these, what was not certain when it was ticked. */
  wasUnsure: ReadonlySet<string> = new Set()
  readonly #telling: Telling
  readonly #changed: () => void
  /** What was said last. */
  last: Deed | undefined
  /** What was said before it and failed. */
  failed: readonly Deed[] = []
  readonly #sending = new Set<Deed>()

  constructor(telling: Telling, changed: () => void) {
    this.#telling = telling
    this.#changed = changed
  }

  /** Marks of which something is on its way. */
  get sending(): ReadonlySet<string> {
    return new Set([...this.#sending].flatMap(marksOf))
  }

  tick(): void {
    const stays = ({ at, state }: Deed) =>
      state === 'sending' || Math.abs(this.#telling.now() - at) <= DEED_MILLISECONDS
    if (this.last && !stays(this.last)) this.last = undefined
    this.failed = this.failed.filter(stays)
  }

  untickAll(): void {
    this.ticked = this.wasUnsure = new Set()
  }

  /** @param unsure - none of them was known to be open */
  seenShut(marks: readonly string[], unsure: boolean): void {
    // What was ticked before stays in its place.
    const unsureHere = unsure ? marks.filter(mark => !this.ticked.has(mark)) : []
    const others = [...this.wasUnsure].filter(mark => unsure || !marks.includes(mark))
    this.wasUnsure = new Set([...others, ...unsureHere])
    this.ticked = new Set([...this.ticked, ...marks])
    this.say('seen-closed', marks)
  }

  say(what: Deed['what'], marks: readonly string[]): void {
    void this.#say(startDeed(what, marks, this.#telling.now()))
  }

  async #say(deed: Deed): Promise<void> {
    // Pressed again it is the same deed.
    const before = this.last
    const isJustNoted = before?.state === 'noted' && Math.abs(deed.at - before.at) < TWICE_MILLISECONDS
    if ([...this.#sending, ...(isJustNoted ? [before] : [])].some(each => isSame(each, deed))) return
    this.#sending.add(deed)
    this.failed = this.failed.filter(({ state }) => state !== 'undone')
    this.last = deed
    this.#changed()
    const telling = sayDeed(deed, this.#telling.ways(), mark => this.#telling.cellOf(mark))
    const parts = await telling.catch(() => [failing(deed)])
    this.#sending.delete(deed)
    // Nothing was taken: what was said before it can still be taken back.
    this.#answered(deed, parts, before?.state === 'noted' ? before : undefined)
    this.#untick(parts.flatMap(({ lost = [] }) => lost))
  }

  async undo(deed: Deed): Promise<void> {
    if (deed.said.length === 0) return
    const sending: Deed = { ...deed, state: 'sending' }
    if (this.last === deed) this.last = sending
    this.failed = this.failed.map(each => (each === deed ? sending : each))
    this.#changed()
    const parts = await undoDeed(deed, this.#telling.ways()).catch(() => [{ ...failing(deed), isUndo: true } as const])
    this.#answered(sending, parts)
    // What has been said again meanwhile is ticked for that.
    const again = this.sending
    this.#untick(parts.flatMap(each => (each.state === 'undone' ? marksOf(each).filter(mark => !again.has(mark)) : [])))
  }

  /** What had no answer in time was noted all the same. */
  late(id: string): void {
    const isHers = (each: { readonly id: string }) => each.id === id
    const deed = this.failed.find(({ state, isUndo, said }) => state === 'failed' && !isUndo && said.some(isHers))
    const one = deed?.said.find(isHers)
    if (!deed || !one) return
    const { what } = deed
    const { mark } = one
    const now = this.#telling.now()
    const said = deed.said.filter(each => each !== one)
    const noted: Deed = { ...deed, state: 'noted', said: [one], at: now }
    const rest = said.length > 0 ? [{ ...deed, said, lost: marksOf({ said }) }] : []
    this.failed = this.failed.flatMap(each => (each === deed ? [noted, ...rest] : each))
    if (what === 'seen-closed') this.ticked = new Set([...this.ticked, mark])
    this.#telling.ways().toOwn({ id, at: new Date(now).toISOString(), mark, what, how: 'live' })
    this.#changed()
  }

  /** Told whatever was said since: what failed for one reason together. */
  fail(deed: Deed): void {
    const alike = this.failed.find(each => ALIKE.every(key => each[key] === deed[key]))
    if (alike) {
      const whole = {
        ...deed,
        said: [...alike.said, ...deed.said],
        lost: [...(alike.lost ?? []), ...(deed.lost ?? [])],
      }
      this.failed = this.failed.map(each => (each === alike ? whole : each))
    } else this.failed = [...this.failed, deed]
    this.#changed()
  }

  /** What was taken and what was lost are told apart, each with its own way back. */
  #answered(deed: Deed, parts: readonly Deed[], before?: Deed): void {
    const at = this.#telling.now()
    const taken = parts.filter(({ state }) => state !== 'failed').map(each => ({ ...each, at }))
    const marks = taken.flatMap(marksOf)
    this.failed = this.failed.flatMap(each =>
      each === deed ? taken : each.what === deed.what ? without(each, marks) : each,
    )
    if (this.last === deed) this.last = taken[0] ?? before
    for (const each of parts) if (each.state === 'failed') this.fail({ ...each, at })
    this.#changed()
  }

  #untick(marks: readonly string[]): void {
    const others = (ticks: ReadonlySet<string>) => new Set([...ticks].filter(mark => !marks.includes(mark)))
    this.ticked = others(this.ticked)
    this.wasUnsure = others(this.wasUnsure)
  }
}

/** What makes two failures one. */
const ALIKE = ['what', 'state', 'way', 'noWay', 'problem', 'isUndo'] as const

const marksOf = ({ said }: Pick<Deed, 'said'>): readonly string[] => said.map(({ mark }) => mark)

const failing = (deed: Deed): Deed => ({ ...deed, state: 'failed', lost: marksOf(deed) })

/** What failed, without what has been taken since; what was not answered may be noted all the same. */
function without(deed: Deed, marks: readonly string[]): readonly Deed[] {
  if (deed.state !== 'failed') return [deed]
  const mayStand = marksOf(deed)
  const lost = (deed.lost ?? []).filter(mark => mayStand.includes(mark) || !marks.includes(mark))
  return lost.length === 0 ? [] : [{ ...deed, lost }]
}

const isSame = (a: Deed, b: Deed): boolean => a.what === b.what && `${marksOf(a)}` === `${marksOf(b)}`
