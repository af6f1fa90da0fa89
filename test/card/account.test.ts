import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { AccountKeeper } from '../../src/card/controllers/account.ts'

const BROKER = 'wss://broker.lan:9001'
const HAND = { user: 'dye-hand', password: 'madder' }
const ONLOOKER = { user: 'rope-onlooker', password: 'hemp' }
const OLDER = { user: 'hand', password: 'indigo' }

const kept = new Map<string, string>()
beforeEach(() => {
  kept.clear()
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, text: string) => void kept.set(key, text),
    removeItem: (key: string) => void kept.delete(key),
  })
})
afterEach(() => void vi.unstubAllGlobals())

/** A page that was just loaded. */
const page = (tally: string) => {
  const accounts = new AccountKeeper(() => {})
  return { accounts, account: accounts.for(BROKER, tally) }
}

test('walls of two houses at one broker keep an account each', () => {
  page('dye/tally').accounts.keep(HAND)
  expect(page('rope/tally').account).toBeUndefined()
  page('rope/tally').accounts.keep(ONLOOKER)
  expect(page('dye/tally').account).toEqual(HAND)
  expect(page('rope/tally').account).toEqual(ONLOOKER)
  page('dye/tally').accounts.forget()
  expect(page('dye/tally').account).toBeUndefined()
  expect(page('rope/tally').account).toEqual(ONLOOKER)
})

test('one that an earlier version kept for the broker is read, until the house has its own or it is forgotten', () => {
  kept.set(`sashtally account ${BROKER}`, JSON.stringify(OLDER))
  expect(page('dye/tally').account).toEqual(OLDER)
  page('dye/tally').accounts.keep(HAND)
  expect(page('dye/tally').account).toEqual(HAND)
  expect(page('rope/tally').account).toEqual(OLDER)
  page('dye/tally').accounts.forget()
  expect(page('dye/tally').account).toBeUndefined()
  expect([...kept]).toEqual([])
})
