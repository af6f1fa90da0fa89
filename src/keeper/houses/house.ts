import { existsSync } from 'node:fs'
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
import { type NamedFile, watchAccount } from './account-watch.ts'
import { type Claims, claimsOf, clashSentence } from './claims.ts'
import { type KeptHouse, knownOf, type LastKnown, type Trouble } from './kept-house.ts'
import { editRefused, registerOf, watchRegister } from './register-watch.ts'

/** The file is the register's. */
export interface HouseOptions extends NamedFile, Pick<KeepOptions, 'homie' | 'backups' | 'tell'> {
  readonly name: string
  /** The file that `links` reads. */
  readonly account?: NamedFile
  /** Folder of the tally. */
  readonly folder: string
  readonly claims: Claims
  now(): number
  links(register: Register): Links | Promise<Links>
}

const FIRST_WAIT_MILLISECONDS = 5_000
const LONGEST_WAIT_MILLISECONDS = 60_000

/** What a keeper says while it waits for its place at the broker. */
const WAITS: ReadonlySet<LogCode> = new Set(['link-down', 'link-refused', 'silent'])

/** One house of many: its keeper, begun again after whatever ends it, for as long as its register is there. */
export class House implements KeptHouse {
  readonly #o: HouseOptions
  readonly name: string
  register: Register | undefined
  keeper: RunningKeeper | undefined
  last: LastKnown | undefined
  /** What keeps it from being kept. */
  #held: Trouble | undefined
  /** What is wrong with the file since the register that holds; for the keeper that comes too. */
  #refused: Trouble | undefined
  #isOver = false
  /** Ends the keeper that is at work or about to be. */
  #present: AbortController | undefined
  /** Ends the wait for another try. */
  #news = once()
  #wait = FIRST_WAIT_MILLISECONDS
  /** What was told since the keeper was last at work: trying again tells it once. */
  #lastTold = ''
  readonly #life: Promise<void>

  /** @param isNew - the file came while others were kept: it may still be being written */
  constructor(options: HouseOptions, isNew: boolean) {
    this.#o = options
    this.name = options.name
    this.#life = this.#live(isNew)
  }

  get trouble(): Trouble | undefined {
    return this.keeper ? this.#refused : this.#held
  }

  /** Ends the keeper in order. */
  async end(): Promise<void> {
    this.#isOver = true
    this.#present?.abort()
    this.#news.now()
    await this.#life
  }

  async #live(isNew: boolean): Promise<void> {
    const { path, claims, file, now, account } = this.#o
    const used = isNew ? undefined : await this.#first()
    const watched = { file: path, now, ...(used === undefined ? {} : { used }) }
    const watch = watchRegister(watched, {
      edited: register => this.#edited(register),
      broken: why => this.#broken(why),
      // Whoever keeps the folder ends this house.
      missing: () => {},
    })
    const accountWatch = account && (await watchAccount(account, what => void this.#accountChanged(what)))
    while (!this.#isOver) {
      this.#news = once()
      const [news, freed] = [this.#news.when, claims.freed]
      if (!this.register) await news
      else if (!(await this.#keep(this.register)) && !this.#isOver)
        await (this.#held?.code === 'clash' ? Promise.race([news, freed]) : within(this.#wait, news))
    }
    watch.stop()
    accountWatch?.stop()
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

  /** A keeper at work goes on where there is no other account to begin anew with. */
  async #accountChanged(what: string): Promise<void> {
    const { links, tell } = this.#o
    const { register } = this
    if (!register) return
    if (this.keeper) {
      try {
        await links(register)
      } catch (error) {
        tell(`${what}; ${messageOf(error)}; the account before it holds`, 'account')
        return
      }
    }
    tell(`${what}: the keeper begins anew`, 'account-read')
    this.#beginAnew()
  }

  #beginAnew(): void {
    this.#present?.abort()
    this.#news.now()
  }

  /** @returns whether it was ended from here */
  async #keep(register: Register): Promise<boolean> {
    const { file, folder, claims, now, homie, backups } = this.#o
    const present = new AbortController()
    this.#present = present
    try {
      const [clash] = claims.take(file, claimsOf(this.name, register))
      if (clash) {
        claims.release(file)
        this.#hold(`${clashSentence(file, clash)}; ${clash.holder} came first`, 'clash')
        return false
      }
      const links = await this.#links(register)
      if (!links) return false
      this.#held = undefined
      const { signal } = present
      const given = {
        register,
        folder,
        links,
        signal,
        tell: (text: string, code: LogCode) => this.#told(text, code),
        now,
        ...(homie ? { homie } : {}),
        ...(backups ? { backups } : {}),
      }
      await turnOf(() => keepHouse({ ...given, opened: keeper => this.#opened(keeper) }))
      return true
    } catch (error) {
      if (present.signal.aborted) return true
      this.#hold(`${messageOf(error)}; tried again`, 'ended')
      this.#wait = Math.min(2 * this.#wait, LONGEST_WAIT_MILLISECONDS)
      return false
    } finally {
      this.keeper = undefined
    }
  }

  async #links(register: Register): Promise<Links | undefined> {
    try {
      return await this.#o.links(register)
    } catch (error) {
      this.#hold(`${messageOf(error)}; tried again`, 'account')
      return undefined
    }
  }

  /** Until the keeper is at work, what holds it up is the house's problem. */
  #told(text: string, code: LogCode): void {
    const { account } = this.#o
    if (this.keeper || !WAITS.has(code)) this.#o.tell(text, code)
    else if (code === 'link-refused' && account && !existsSync(account.path))
      this.#hold(`${text}; ${account.file} is not there`, 'account')
    else this.#hold(text, code)
  }

  #opened(keeper: RunningKeeper | undefined): void {
    if (!keeper) this.last = knownOf(this)
    this.keeper = keeper
    if (!keeper) return
    this.#held = undefined
    this.#lastTold = ''
    this.#wait = FIRST_WAIT_MILLISECONDS
    if (this.#refused) keeper.refuseEdit(this.#refused.text)
  }

  /** @returns false: another house has what it claims, and the register before it holds */
  #edited(register: Register): boolean {
    const { file, claims } = this.#o
    const before = this.register
    const wanted = claimsOf(this.name, register)
    if (this.keeper && before) {
      const [clash] = claims.clashes(file, wanted)
      if (clash) {
        this.#refuse(`${clashSentence(file, clash)}: the register before it holds`, 'clash')
        return false
      }
    }
    if (this.keeper && before && isSamePlace(before, register)) {
      claims.take(file, wanted)
      this.keeper.adopt(register)
    } else {
      this.#beginAnew()
    }
    this.register = register
    this.#refused = undefined
    return true
  }

  #broken(why: string): void {
    const { file } = this.#o
    this.#refuse(editRefused(file, why), 'register')
    if (!this.keeper) this.#hold(`${file} ${why}: run \`sashtally check ${file}\``, 'register')
  }

  #refuse(text: string, code: LogCode): void {
    if (this.#refused?.text !== text) this.keeper?.refuseEdit(text)
    this.#refused = { text, code }
  }

  #hold(text: string, code: LogCode): void {
    this.#held = { text, code }
    if (this.#lastTold !== text) this.#o.tell(text, code)
    this.#lastTold = text
  }
}

/** A running keeper can go on with it. */
const isSamePlace = (one: Register, other: Register): boolean =>
  one.tally === other.tally && JSON.stringify(one.broker) === JSON.stringify(other.broker)
