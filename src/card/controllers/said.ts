import { type Deed, sayDeed, startDeed, undoDeed, type Ways } from '../deeds.ts'

/** What was said stays on the sheet this long, with its way back. */
const DEED_MILLISECONDS = 5 * 60_000
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
  #last: Deed | undefined
  #failed: readonly Deed[] = []
  readonly #sending = new Set<Deed>()

  constructor(telling: Telling, changed: () => void) {
    this.#telling = telling
    this.#changed = changed
  }

  /** What failed, and what was said last. */
  get deeds(): readonly Deed[] {
    return this.#last ? [...this.#failed, this.#last] : this.#failed
  }

  /** Marks of which something is on its way. */
  get sending(): ReadonlySet<string> {
    return new Set([...this.#sending].flatMap(({ said }) => said.map(({ mark }) => mark)))
  }

  tick(): void {
    const isYoung = ({ at }: Deed) => Math.abs(this.#telling.now() - at) <= DEED_MILLISECONDS
    if (this.#last && this.#last.state !== 'sending' && !isYoung(this.#last)) this.#last = undefined
    this.#failed = this.#failed.filter(isYoung)
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
    const last = this.#last
    const isJustNoted = last?.state === 'noted' && Math.abs(deed.at - last.at) < TWICE_MILLISECONDS
    if ([...this.#sending, ...(isJustNoted ? [last] : [])].some(each => isSame(each, deed))) return
    this.#sending.add(deed)
    this.#last = deed
    this.#changed()
    const done = await sayDeed(deed, this.#telling.ways(), mark => this.#telling.cellOf(mark)).finally(() =>
      this.#sending.delete(deed),
    )
    this.#answered(deed, done, 'noted')
    this.#untick(done.lost ?? [])
  }

  async undo(deed: Deed): Promise<void> {
    if (deed.said.length === 0) return
    const sending: Deed = { ...deed, state: 'sending' }
    this.#failed = this.#failed.filter(each => each !== deed)
    this.#last = sending
    this.#changed()
    const done = await undoDeed(deed, this.#telling.ways())
    this.#answered(sending, done, 'undone')
    this.#untick(deed.said.flatMap(({ mark }) => (done.lost?.includes(mark) ? [] : mark)))
  }

  /** Told whatever was said since: what failed for one reason together, until it is said again. */
  fail(deed: Deed): void {
    const alike = this.#failed.find(
      ({ what, problem, noWay }) => what === deed.what && problem === deed.problem && noWay === deed.noWay,
    )
    const whole = alike
      ? { ...deed, said: [...alike.said, ...deed.said], lost: [...(alike.lost ?? []), ...(deed.lost ?? [])] }
      : deed
    this.#failed = [...this.#failed.filter(each => each !== alike), whole]
    this.#changed()
  }

  /** What was taken and what was lost are told apart, each with its own way back. */
  #answered(deed: Deed, answer: Deed, state: 'noted' | 'undone'): void {
    const { lost = [] } = answer
    const isLost = ({ mark }: Deed['said'][number]) => lost.includes(mark)
    const said = deed.said.filter(each => !isLost(each))
    const at = this.#telling.now()
    const marks = deed.said.map(({ mark }) => mark)
    this.#failed = this.#failed.flatMap(each => (each.what === deed.what ? without(each, marks) : each))
    if (this.#last === deed) this.#last = said.length > 0 ? { ...answer, state, said, at } : undefined
    if (lost.length > 0) this.fail({ ...answer, said: answer.said.filter(isLost), at })
    this.#changed()
  }

  #untick(marks: readonly string[]): void {
    const others = (ticks: ReadonlySet<string>) => new Set([...ticks].filter(mark => !marks.includes(mark)))
    this.ticked = others(this.ticked)
    this.wasUnsure = others(this.wasUnsure)
  }
}

/** What failed, without what has been said again. */
function without(deed: Deed, marks: readonly string[]): readonly Deed[] {
  const lost = (deed.lost ?? []).filter(mark => !marks.includes(mark))
  return lost.length > 0 ? [{ ...deed, lost, said: deed.said.filter(({ mark }) => !marks.includes(mark)) }] : []
}

const isSame = (a: Deed, b: Deed): boolean =>
  a.what === b.what &&
  a.said.length === b.said.length &&
  a.said.every(({ mark }, index) => mark === b.said[index]?.mark)
