import { readFile } from 'node:fs/promises'
import type { Links } from '../../link/node/links.ts'
import type { Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import type { KeepOptions, RunningKeeper } from '../begin/keep-options.ts'
import { within } from '../clock.ts'
import { keepHouse } from '../keep-house.ts'
import type { LogCode } from '../log-codes.ts'
import { once } from '../once.ts'
import { turnOf } from '../turns.ts'
import { type Claims, type Clash, claimsOf, clashSentence } from './claims.ts'
import type { KeptHouse } from './kept-house.ts'
import { editRefused, registerOf, watchRegister } from './register-watch.ts'

export interface HouseOptions extends Pick<KeepOptions, 'homie' | 'backups' | 'tell'> {
  /** The register's file as messages name it, and where it lies. */
  readonly file: string
  readonly path: string
  readonly name: string
  /** Folder of the tally. */
  readonly folder: string
  readonly claims: Claims
  now(): number
  links(register: Register): Links | Promise<Links>
}

const FIRST_WAIT_MILLISECONDS = 5_000
const LONGEST_WAIT_MILLISECONDS = 60_000

/** One house of many: its keeper, begun again after whatever ends it, for as long as its register is there. */
export class House implements KeptHouse {
  readonly #o: HouseOptions
  readonly name: string
  register: Register | undefined
  keeper: RunningKeeper | undefined
  problem: string | undefined
  #isOver = false
  /** Ends the keeper that is at work or about to be. */
  #present: AbortController | undefined
  /** Ends the wait for another try. */
  #news = once()
  #wait = FIRST_WAIT_MILLISECONDS
  /** What is wrong with the file since the register that holds, as a sentence; for the keeper that comes. */
  #fault: string | undefined
  readonly #life: Promise<void>

  /** @param isNew - the file came while others were kept: it may still be being written */
  constructor(options: HouseOptions, isNew: boolean) {
    this.#o = options
    this.name = options.name
    this.#life = this.#live(isNew)
  }

  /** Ends the keeper in order. */
  async end(): Promise<void> {
    this.#isOver = true
    this.#present?.abort()
    this.#news.now()
    await this.#life
  }

  async #live(isNew: boolean): Promise<void> {
    const { path, claims, file, now } = this.#o
    const used = isNew ? undefined : await this.#first()
    const watched = { file: path, now, ...(used === undefined ? {} : { used }) }
    const watch = watchRegister(watched, {
      edited: register => this.#edited(register),
      broken: why => this.#broken(why),
    })
    while (!this.#isOver) {
      this.#news = once()
      const news = this.#news.when
      if (!this.register) await news
      else if (!(await this.#keep(this.register)) && !this.#isOver) await within(this.#wait, news)
    }
    watch.stop()
    claims.release(file)
  }

  /** What stands in the file at the start is taken as it is. */
  async #first(): Promise<string | undefined> {
    const text = await readFile(this.#o.path, 'utf8').catch(() => undefined)
    if (text === undefined) return undefined
    const register = await turnOf(() => registerOf(text))
    if (typeof register === 'string') this.#broken(register)
    else this.register = register
    return text
  }

  /** @returns whether it was ended from here */
  async #keep(register: Register): Promise<boolean> {
    const { file, folder, claims, tell, now, homie, backups } = this.#o
    const present = new AbortController()
    this.#present = present
    try {
      const [clash] = this.#claim(register)
      if (clash) {
        claims.release(file)
        this.#trouble(`${clashSentence(file, clash)}; ${clash.holder} came first`, 'ended')
        return false
      }
      const links = await this.#o.links(register)
      const { signal } = present
      const given = {
        register,
        folder,
        links,
        signal,
        tell,
        now,
        ...(homie ? { homie } : {}),
        ...(backups ? { backups } : {}),
      }
      await turnOf(() => keepHouse({ ...given, opened: keeper => this.#opened(keeper) }))
      return true
    } catch (error) {
      if (present.signal.aborted) return true
      this.#trouble(`${messageOf(error)}; tried again`, 'ended')
      this.#wait = Math.min(2 * this.#wait, LONGEST_WAIT_MILLISECONDS)
      return false
    } finally {
      this.keeper = undefined
    }
  }

  #opened(keeper: RunningKeeper | undefined): void {
    this.keeper = keeper
    if (!keeper) return
    this.problem = undefined
    this.#wait = FIRST_WAIT_MILLISECONDS
    if (this.#fault !== undefined) keeper.refuseEdit(this.#fault)
  }

  #claim(register: Register): readonly Clash[] {
    const { name, file, claims } = this.#o
    return claims.take(file, claimsOf(name, register))
  }

  #edited(register: Register): void {
    const before = this.register
    if (this.keeper && before && isSamePlace(before, register)) {
      const [clash] = this.#claim(register)
      if (clash) {
        this.#fault = `${clashSentence(this.#o.file, clash)}: the register before it holds`
        this.keeper.refuseEdit(this.#fault)
        return
      }
      this.keeper.adopt(register)
    } else {
      this.#present?.abort()
      this.#news.now()
    }
    this.register = register
    this.#fault = undefined
  }

  #broken(why: string): void {
    const { file } = this.#o
    this.#fault = editRefused(file, why)
    if (this.keeper) this.keeper.refuseEdit(this.#fault)
    else this.#trouble(`${file} ${why}: run \`sashtally check ${file}\``, 'register')
  }

  #trouble(sentence: string, code: LogCode): void {
    if (this.problem === sentence) return
    this.problem = sentence
    this.#o.tell(sentence, code)
  }
}

/** A running keeper can go on with it. */
const isSamePlace = (one: Register, other: Register): boolean =>
  one.tally === other.tally && JSON.stringify(one.broker) === JSON.stringify(other.broker)
