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
import { type AccountUser, followAccount } from './account-follow.ts'
import type { NamedFile } from './account-watch.ts'
import { type Claims, type Clash, claimsOf, clashSentence } from './claims.ts'
import { type KeptHouse, type LastKnown, lastKnown, type Trouble } from './kept-house.ts'
import { brokenEdit, clashingEdit, type RefusedEdit } from './refused-edit.ts'
import { registerOf, watchRegister } from './register-watch.ts'

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
  #refused: RefusedEdit | undefined
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
    const accountWatch = account && (await followAccount(account, this.#accountUser()))
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

  #accountUser(): AccountUser {
    const { links, tell, now } = this.#o
    return {
      ...{ links, tell, now },
      atWork: () => {
        const { keeper, register } = this
        return keeper && register && this.#present && { register, signal: this.#present.signal }
      },
      beginAnew: what => {
        if (!this.register) return
        tell(`${what}: the keeper begins anew`, 'account-read')
        this.#beginAnew()
      },
    }
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
        this.#hold(`${clashSentence(file, clash)}; ${clash.holder} came first`, 'clash')
        return false
      }
      const links = await this.#links(register)
      if (!links) return false
      this.#held = undefined
      const given = {
        register,
        folder,
        links,
        signal: present.signal,
        tell: (text: string, code: LogCode) => this.#told(text, code, links),
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
      present.abort()
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
  #told(text: string, code: LogCode, { user }: Links): void {
    const { account } = this.#o
    if (this.keeper || !WAITS.has(code)) this.#o.tell(text, code)
    else if (code !== 'link-refused' || !account || existsSync(account.path)) this.#hold(text, code)
    else if (user === undefined) this.#hold(`${text}; ${account.file} is not there`, 'account')
    else this.#hold(`${text}; ${account.file} is not there, and the account of all houses was tried`, code)
  }

  #opened(keeper: RunningKeeper | undefined): void {
    if (!keeper) this.last = lastKnown(this)
    this.keeper = keeper
    if (!keeper) return
    this.#held = undefined
    this.#lastTold = ''
    this.#wait = FIRST_WAIT_MILLISECONDS
    if (this.#refused) keeper.refuseEdit(this.#refused.said, true)
  }

  #edited(register: Register): void {
    const { file, claims } = this.#o
    const { keeper, register: before } = this
    const goesOn = keeper && before && !this.#present?.signal.aborted && isSamePlace(before, register)
    const wanted = claimsOf(this.name, register)
    // A file that has nothing yet loses nothing by another register. A keeper that is to end keeps its claims until it has ended.
    const take = (): readonly Clash[] => (goesOn ? claims.take(file, wanted) : claims.takeToo(file, wanted))
    const [clash] = claims.isHolder(file) ? take() : []
    if (clash) {
      this.#clashes(register, clash)
      return
    }
    if (goesOn) keeper.adopt(register)
    else this.#beginAnew()
    this.register = register
    this.#refused = undefined
  }

  /** The edit is refused until the other house lets go. */
  #clashes(register: Register, clash: Clash): void {
    const { file, claims } = this.#o
    const refused = clashingEdit(file, clash)
    this.#refuse(refused)
    void claims.freed.then(() => {
      if (this.#refused === refused && !this.#isOver) this.#edited(register)
    })
  }

  #broken(why: string): void {
    const { file } = this.#o
    if (this.register) this.#refuse(brokenEdit(file, why))
    else this.#hold(`${file} ${why}: run \`sashtally check ${file}\``, 'register')
  }

  #refuse(refused: RefusedEdit): void {
    const isNew = this.#refused?.text !== refused.text
    this.#refused = refused
    if (!isNew) return
    this.#o.tell(refused.text, refused.code)
    this.keeper?.refuseEdit(refused.said, true)
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
