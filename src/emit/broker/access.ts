import { homieTopics } from '../../protocol/homie.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'

/** An account at the broker and what it may do. */
export interface Account {
  readonly user: string
  /** Of a contact's own account. */
  readonly mark?: string
  readonly what: string
  readonly reads: readonly string[]
  readonly writes: readonly string[]
}

/** Every account a house needs: one for each role, and one for each contact, named by its client id. */
export function accounts({ tally, openings, homieDomain }: Register): readonly Account[] {
  const contacts = openings.map(({ topic }) => topic)
  const { all, says: say } = tallyTopics(tally).filters
  const devices = homieTopics(homieDomain).all
  return [
    { user: 'onlooker', what: 'a wall that only looks, with a keeper; a hub', reads: [all], writes: [] },
    { user: 'direct', what: 'a wall that counts for itself', reads: [all, ...contacts], writes: [] },
    { user: 'hand', what: 'a wall whose people may say what they saw', reads: [all], writes: [say] },
    { user: 'bench', what: 'prove, round, rehearse', reads: [all, ...contacts], writes: [say] },
    // It gives a broker that was rebuilt the contacts' rest words, and tells of the house as devices.
    { user: 'keeper', what: 'the keeper', reads: [all, devices, ...contacts], writes: [all, devices, ...contacts] },
    ...openings.map(({ client, topic, mark }) => ({
      user: client,
      mark,
      what: `contact ${mark}`,
      reads: [],
      writes: [topic],
    })),
  ]
}

/** A name that the access list cannot hold: told before anything is written. */
export interface AccessProblem {
  readonly user: string
  readonly message: string
}

const ROLES = new Set(['onlooker', 'direct', 'hand', 'bench', 'keeper'])

/** Names that would break or widen an access list. */
export function accessProblems(register: Register): readonly AccessProblem[] {
  const problems: AccessProblem[] = []
  for (const { mark, client, topic } of register.openings) {
    if (ROLES.has(client))
      problems.push({
        user: client,
        message: `${mark}: the client id "${client}" is the name of a role's account; give it another`,
      })
    if (!/^[^\s:#%\p{C}][^:\p{C}]{0,63}$/u.test(client) || /\s$/.test(client)) {
      problems.push({
        user: client,
        message: `${mark}: an account cannot be named ${JSON.stringify(client)}; 1 to 23 letters and digits can`,
      })
    }
    if (/\p{C}/u.test(topic) || /^\s|\s$/.test(topic)) {
      problems.push({
        user: client,
        message: `${mark}: an access list cannot hold the topic ${JSON.stringify(topic)}; leave out control characters and blanks at its ends`,
      })
    }
  }
  return problems
}

/**
 * Access list of a broker that keeps one as text: `user`, then `topic read|write FILTER` lines.
 * Who is not named may do nothing.
 */
export function accessList(register: Register): string {
  const blocks = accounts(register).map(({ user, what, reads, writes }) =>
    [
      `# ${what}`,
      `user ${user}`,
      ...reads.filter(topic => !writes.includes(topic)).map(topic => `topic read ${topic}`),
      ...writes.map(topic => `topic ${reads.includes(topic) ? 'readwrite' : 'write'} ${topic}`),
    ].join('\n'),
  )
  return `# Generated from the register of ${register.house.replace(/\p{C}/gu, ' ')}. Do not edit.\n\n${blocks.join('\n\n')}\n`
}
