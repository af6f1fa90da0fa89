import type { ContactFacts } from '../../src/cli/begin/contact.ts'

export { Contact, type ContactFacts, contactFacts, type WakeOptions, wake } from '../../src/cli/begin/contact.ts'

/** Facts of a coin-cell contact, for tests that need no register. */
export const coinFacts = (mark: string, given: Partial<ContactFacts> = {}): ContactFacts => ({
  clientId: `rw${mark.toLowerCase()}`,
  topic: `ropewalk/${mark.toLowerCase()}`,
  keepAliveSeconds: 4,
  qos: 1,
  opened: 'opened',
  will: 'asleep',
  retain: false,
  ...given,
})

/** Facts of a mains contact that reports both edges. */
export const yardFacts = (mark: string, given: Partial<ContactFacts> = {}): ContactFacts =>
  coinFacts(mark, { keepAliveSeconds: 30, opened: 'ajar', closed: 'shut', will: 'lost', retain: true, ...given })
