import type { Random } from '../../budget/lives/draw.ts'
import { earsOf, policyOf } from '../../house/policy.ts'
import { type Ledger, startLedger } from '../../ledger/apply.ts'
import { type Ears, hear } from '../../ledger/hear.ts'
import { judgeSay } from '../../ledger/judge-say.ts'
import { roundEntries, tickRound } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import type { Say } from '../../protocol/say.ts'
import type { Opening, Register } from '../../register/types.ts'
import { DAY, HOUR, iso, MINUTE } from '../../text/time.ts'
import { utf8Bytes } from '../../text/utf8.ts'
import { knownOf, planOf } from '../bench/round-plan.ts'
import { contactFacts } from './contact.ts'
import { pick, shuffled } from './random.ts'

/** How long the demo's house has had its tally; its doors got their contacts later. */
export const PAST_WEEKS = 20
const PAST_DAYS = 7 * PAST_WEEKS
const DOOR_DAYS = 14
/** Walks round the house, in days before today. */
const WALKS: readonly number[] = [PAST_DAYS, 70, 4]
/** Sends of a coin cell: about 20 is common practice for a cold join, shape 3 is the forecast's own guess. */
const LIFE = { median: 20, shape: 3 } as const
const PEOPLE = ['Ada', 'Bram', 'Ines'] as const

/** The weeks before a demo begins. */
export interface Past {
  /** In the order in which they came, all before `now`. */
  readonly entries: readonly Entry[]
  /** Boot counts of the modules by mark. */
  readonly boots: ReadonlyMap<string, number>
  /** Marks of the contacts whose cells are spent, whether anybody knows of it or not. */
  readonly silent: ReadonlySet<string>
}

/**
 * Some months of a made-up house: natural openings, walks, cells that die and are changed, one that waits for a new one,
 * and a newcomer of which nothing was heard. Words and sayings pass the same judges as those of a real house.
 * @param now - milliseconds since the epoch; the same register, random numbers and `now` give the same past
 */
export function pastOf(register: Register, random: Random, now: number): Past {
  const house = new PastHouse(register, random, now)
  return house.live()
}

/** One contact through its weeks. */
interface Life {
  readonly opening: Opening
  /** Sends until the cell is spent; endless on mains. */
  sendsLeft: number
  isDead: boolean
}

class PastHouse {
  readonly #register: Register
  readonly #random: Random
  readonly #now: number
  readonly #ears: Ears
  readonly #policy: HousePolicy
  readonly #ledger: Ledger
  readonly #entries: Entry[] = []
  readonly #boots = new Map<string, number>()
  /** Known to be spent, and waiting for a new cell. */
  readonly #spent = new Set<string>()
  /** The opening whose cell is spent and not changed yet. */
  #waits: Opening | undefined
  #number = 0

  constructor(register: Register, random: Random, now: number) {
    this.#register = register
    this.#random = random
    this.#now = now
    this.#ears = earsOf(register)
    this.#policy = policyOf(register)
    this.#ledger = startLedger(this.#policy)
  }

  live(): Past {
    const { openings } = this.#register
    const ofCells = openings.filter(({ sender }) => sender.power === 'cell').slice(0, -1)
    const doors = openings.filter(({ sender }) => sender.reports === 'both')
    this.#waits = shuffled(
      this.#random,
      ofCells.filter(({ settings }) => (settings.openingsPerYear ?? 0) >= 40),
    )[0]
    const lives = ofCells.map(opening => this.#begin(opening))
    for (let day = PAST_DAYS; day >= 0; day--) {
      if (WALKS.includes(day)) this.#walk(lives, day)
      else for (const life of lives) this.#passDay(life, day)
      for (const door of doors) {
        if (day === DOOR_DAYS) this.#say(door, this.#at(day, 7), { what: 'module-fitted', by: PEOPLE[0] })
        if (day <= DOOR_DAYS) this.#doorDay(door, day)
      }
    }
    const entries = this.#entries
      .filter(({ at }) => Date.parse(at) < this.#now)
      .sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0))
    const silent = new Set(lives.flatMap(({ opening, isDead }) => (isDead ? [opening.mark] : [])))
    return { entries, boots: this.#boots, silent }
  }

  /** A moment of a day, from its start in hours. */
  #at(daysAgo: number, hour: number): number {
    const midnight = Math.floor(this.#now / DAY) * DAY
    return Math.round(midnight - daysAgo * DAY + hour * HOUR)
  }

  #id(): string {
    return `past-${++this.#number}`
  }

  /** Half the cells were new when the tally began. */
  #begin(opening: Opening): Life {
    const whole = this.#lifetime(opening)
    const isNew = this.#random() < 0.5
    if (isNew) this.#fit(opening, this.#at(PAST_DAYS + 1, 9 + this.#random() * 8))
    return { opening, sendsLeft: isNew ? whole : Math.max(4, Math.ceil(whole * this.#random())), isDead: false }
  }

  #lifetime({ sender }: Opening): number {
    const scale = LIFE.median / Math.LN2 ** (1 / LIFE.shape)
    const larger = sender.cell === 'CR2450' ? 2 : 1
    return Math.max(6, Math.round(larger * scale * (-Math.log(1 - this.#random())) ** (1 / LIFE.shape)))
  }

  #passDay(life: Life, day: number): void {
    const perDay = (life.opening.settings.openingsPerYear ?? 40) / 365
    if (this.#spent.has(life.opening.mark)) return
    if (life.isDead) {
      // A silent window is found out in a week or two, or on the next walk.
      if (day > 0 && this.#random() < 0.1) this.#findDead(life, day)
      return
    }
    // The one that waits gave its last sign some days ago.
    const isLast = life.opening === this.#waits && day === 6
    if (isLast) life.sendsLeft = 0
    if (!isLast && this.#random() >= 1 - Math.exp(-perDay)) return
    const at = this.#at(day, 8 + this.#random() * 9)
    if (at > this.#now - HOUR) return
    this.#open(life, at)
    if (!life.isDead && this.#random() < 0.93)
      this.#say(life.opening, this.#at(day, 17.5 + this.#random() * 4), { what: 'seen-closed', by: this.#somebody() })
  }

  /** Opens it once. A cell that is spent by it connects, but its word does not get through; then it is silent. */
  #open(life: Life, at: number): Entry | undefined {
    const { opening } = life
    if (life.isDead) return undefined
    const boots = (this.#boots.get(opening.mark) ?? 0) + 1
    this.#boots.set(opening.mark, boots)
    const facts = contactFacts(opening, { boots, millivolts: Math.round(2990 - 2 * boots + 20 * this.#random()) })
    life.isDead = life.sendsLeft-- <= 0
    const word = at + 3_500 + Math.round(500 * this.#random())
    const heard = life.isDead ? undefined : this.#hear(opening, facts.opened, word)
    const wait = 1_500 * opening.sender.keepAliveSeconds + Math.round(400 * this.#random())
    this.#hear(opening, facts.will, word + wait)
    return heard
  }

  #findDead(life: Life, day: number): void {
    const { opening } = life
    const at = this.#at(day, 17 + this.#random() * 2)
    this.#say(opening, at, { what: 'failed', by: this.#somebody() })
    if (opening === this.#waits && day < 20) {
      this.#spent.add(opening.mark)
      life.sendsLeft = -1
      return
    }
    this.#fit(opening, at + 0.5 * HOUR)
    Object.assign(life, { sendsLeft: this.#lifetime(opening), isDead: false })
    this.#open(life, at + 0.6 * HOUR)
    this.#say(opening, at + 0.65 * HOUR, {
      what: 'proved',
      by: this.#somebody(),
      joinMilliseconds: Math.round(3_500 + 500 * this.#random()),
    })
  }

  #fit(opening: Opening, at: number): void {
    const millivolts = Math.round(3_190 + 60 * this.#random())
    this.#say(opening, at, {
      what: 'cell-fitted',
      by: this.#somebody(),
      cell: { type: opening.sender.cell ?? 'CR2032', batch: pick(this.#random, ['B7', 'B8']), millivolts },
    })
  }

  #walk(lives: readonly Life[], day: number): void {
    const started = this.#at(day, 15)
    let walk = planOf(this.#register, knownOf(this.#register, this.#ledger, started), iso(started), false)
    let at = started
    for (const { mark } of walk.steps) {
      at += MINUTE + Math.round(30_000 * this.#random())
      const life = lives.find(({ opening }) => opening.mark === mark)
      const door = this.#register.openings.find(each => each.mark === mark && each.sender.reports === 'both')
      const entry = life ? this.#open(life, at) : door && day <= DOOR_DAYS ? this.#passDoor(door, at) : undefined
      if (entry) walk = tickRound(walk, entry)
    }
    const hung = new Set(lives.map(({ opening }) => opening.mark))
    const results = roundEntries(walk, iso(at + MINUTE), () => this.#id())
    this.#entries.push(...results.filter(({ mark, text }) => hung.has(mark) || text === 'heard'))
    for (const life of lives) {
      if (!life.isDead)
        this.#say(life.opening, at + 120_000, { what: 'seen-closed', by: PEOPLE[0], note: 'on the walk' })
      else if (!this.#spent.has(life.opening.mark)) this.#findDead(life, day)
    }
  }

  #doorDay(door: Opening, day: number): void {
    const times = Math.round(((door.settings.openingsPerYear ?? 1_000) / 365) * (0.7 + 0.6 * this.#random()))
    for (let n = 0; n < times; n++) {
      const at = this.#at(day, 8 + ((n + this.#random()) * 11) / times)
      if (at < this.#now - HOUR) this.#passDoor(door, at)
    }
  }

  #passDoor(door: Opening, at: number): Entry | undefined {
    const facts = contactFacts(door)
    const opened = this.#hear(door, facts.opened, at)
    this.#hear(door, facts.closed ?? '', at + 2_000 + Math.round(20_000 * this.#random()))
    return opened
  }

  #somebody(): string {
    return pick(this.#random, PEOPLE)
  }

  #hear({ topic, sender }: Opening, text: string, at: number): Entry | undefined {
    const message = { topic, payload: utf8Bytes(text), retain: false, dup: false, qos: sender.qos }
    const hearing = { id: this.#id(), at: iso(at), linkLiveSeconds: DAY / 1000 }
    const entry = hear(this.#ears, message, hearing)
    if (entry) this.#entries.push(entry)
    return entry
  }

  /** Says it as somebody would have on that day. */
  #say({ mark }: Opening, now: number, said: Omit<Say, 'v' | 'id'>): void {
    const judged = judgeSay(
      JSON.stringify({ v: 1, id: this.#id(), ...said }),
      mark,
      { retain: false, queued: false, at: iso(now) },
      { ledger: this.#ledger, policy: this.#policy, now, find: () => undefined },
    )
    if (!('entry' in judged)) throw new Error(`${mark} ${said.what}: ${'problem' in judged ? judged.problem : 'twice'}`)
    this.#entries.push(judged.entry)
  }
}
