import type { Taken } from '../session/taken.ts'
import type { Sql } from './sqlite.ts'
import type { Batch } from './store-rules.ts'

const textOf = (bytes: ArrayBuffer): string => Buffer.from(bytes).toString()

/** What a store keeps beside its entries: facts by name, and what the last messages of the session looked like. */
export class SmallTables {
  readonly #sql: Sql
  readonly #put
  readonly #insert
  readonly #trim

  constructor(sql: Sql) {
    this.#sql = sql
    this.#put = sql.prepare('insert or replace into facts (name, value) values (?, ?)')
    this.#insert = sql.prepare('insert into taken (turn, batch, packet, print) values (?, ?, ?, ?)')
    this.#trim = sql.prepare('delete from taken where turn < ?')
  }

  fact(name: string): string | undefined {
    const found = this.#sql.prepare('select cast(value as blob) as value from facts where name = ?').get([name])
    return found ? textOf((found as { value: ArrayBuffer }).value) : undefined
  }

  setFact(name: string, value: string): void {
    this.#put.run([name, value])
  }

  taken(): Taken[] {
    const query = 'select turn, batch, packet, cast(print as blob) as print from taken order by turn'
    const rows = this.#sql.prepare(query).all([]) as (Omit<Taken, 'print'> & { print: ArrayBuffer })[]
    return rows.map(row => ({ ...row, print: textOf(row.print) }))
  }

  /** What a batch says of the session and of facts; inside its transaction. */
  keep({ newSession, taken, facts = {} }: Batch<unknown>): void {
    if (newSession) this.#sql.exec('delete from taken')
    for (const { turn, batch, packet, print } of taken?.taken ?? []) this.#insert.run([turn, batch, packet, print])
    if (taken) this.#trim.run([taken.keepFrom])
    for (const [name, value] of Object.entries(facts)) this.setFact(name, value)
  }
}
