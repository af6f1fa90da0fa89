import fc from 'fast-check'
import { generate } from 'mqtt-packet'
import { expect, test } from 'vitest'
import { AckGate } from '../../src/link/node/ack-gate.ts'

const puback = (messageId: number) => generate({ cmd: 'puback', messageId })
const ping = generate({ cmd: 'pingreq' })
const publish = (length: number) =>
  generate({ cmd: 'publish', topic: 't', payload: 'x'.repeat(length), qos: 0, retain: false, dup: false })

/** A gate and all that has left it. */
function gated() {
  const gate = new AckGate()
  const left: Uint8Array[] = []
  gate.connect(bytes => left.push(bytes))
  return {
    gate,
    write: (...bytes: Uint8Array[]) => left.push(gate.pass(Buffer.concat(bytes))),
    left: () => Buffer.concat(left),
  }
}

test('nothing is held that nobody asked to hold', () => {
  const { write, left } = gated()
  write(puback(1), ping, publish(300))
  expect(left()).toEqual(Buffer.concat([puback(1), ping, publish(300)]))
})

test('a held acknowledgement leaves when it is let go, and others pass it meanwhile', () => {
  const { gate, write, left } = gated()
  const release = gate.hold(7)
  write(puback(7))
  write(ping)
  expect(left()).toEqual(ping)
  release()
  expect(left()).toEqual(Buffer.concat([ping, puback(7)]))
})

test('acknowledgements keep the order of their messages (MQTT-4.6.0-2)', () => {
  const { gate, write, left } = gated()
  const [first, second] = [gate.hold(1), gate.hold(2)]
  write(puback(1), puback(2), puback(3))
  second()
  expect(left()).toHaveLength(0)
  first()
  expect(left()).toEqual(Buffer.concat([puback(1), puback(2), puback(3)]))
})

test('one let go before the client wrote it is not held', () => {
  const { gate, write, left } = gated()
  gate.hold(1)()
  write(puback(1))
  expect(left()).toEqual(puback(1))
})

test('of many only so many are out as the broker has read: the answer to a ping behind them lets the next ones go', () => {
  const { gate, write, left } = gated()
  const releases = Array.from({ length: 250 }, (_, n) => gate.hold(n + 1))
  const acks = releases.map((_, n) => puback(n + 1))
  write(...acks)
  for (const release of releases) release()
  const first = [...acks.slice(0, 100), ping]
  expect(left()).toEqual(Buffer.concat(first))
  write(publish(10))
  gate.answered()
  const second = [publish(10), ...acks.slice(100, 200), ping]
  expect(left(), 'what is published does not wait').toEqual(Buffer.concat([...first, ...second]))
  gate.answered()
  gate.answered()
  expect(left()).toEqual(Buffer.concat([...first, ...second, ...acks.slice(200)]))
})

test('the answer to a ping of the client’s own is not taken for that', () => {
  const { gate, write, left } = gated()
  const acks = Array.from({ length: 101 }, (_, n) => puback(n + 1))
  write(ping)
  write(...acks)
  const out = Buffer.concat([ping, ...acks.slice(0, 100), ping])
  expect(left()).toEqual(out)
  gate.answered()
  expect(left()).toEqual(out)
  gate.answered()
  expect(left()).toEqual(Buffer.concat([out, acks[100]!]))
})

test('an id may be used again once it is acknowledged', () => {
  const { gate, write, left } = gated()
  gate.hold(1)()
  write(puback(1))
  const again = gate.hold(1)
  write(puback(1))
  expect(left()).toEqual(puback(1))
  again()
  expect(left()).toEqual(Buffer.concat([puback(1), puback(1)]))
})

test('packets may come in any pieces', () => {
  const piece = fc.oneof(
    fc.constantFrom(ping, publish(0), publish(130), publish(2_000)),
    fc.integer({ min: 1, max: 65_535 }).map(puback),
  )
  fc.assert(
    fc.property(
      fc.array(piece, { maxLength: 8 }),
      fc.array(fc.integer({ min: 1, max: 400 }), { minLength: 1, maxLength: 20 }),
      (packets, cuts) => {
        const { gate, write, left } = gated()
        const release = gate.hold(70_000)
        const all = Buffer.concat(packets)
        let at = 0
        for (let turn = 0; at < all.length; turn++) {
          const end = at + cuts[turn % cuts.length]!
          write(all.subarray(at, end))
          at = end
        }
        release()
        expect(left()).toEqual(all)
      },
    ),
  )
})
