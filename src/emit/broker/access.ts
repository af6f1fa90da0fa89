import { homieRoot, homieTopics } from '../../protocol/homie.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { isInside, topicFault } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { type ListedHouse, listHead } from './listed-houses.ts'

const ROLES = ['onlooker', 'direct', 'hand', 'bench', 'keeper'] as const
type Role = (typeof ROLES)[number]

/** An account at the broker and what it may do. */
export interface Account {
  readonly user: string
  /** Of a contact's own account; else it has a role. */
  readonly mark?: string
  readonly role?: Role
  readonly what: string
  readonly reads: readonly string[]
  readonly writes: readonly string[]
}

/** A house at a broker that it shares with others. */
export interface SharingHouse {
  /** Stands before the names of its roles: `dye-house-keeper`. */
  readonly name: string
  /** No other house at the broker has anything in its Homie domain, or all of that in its tally. */
  readonly hasOwnDevices: boolean
}

/** Names of the houses that share a broker, to how they share it. */
export function sharing(registers: ReadonlyMap<string, Register>): readonly SharingHouse[] {
  const all = [...registers]
  return all.map(([name, { homieDomain }]) => {
    const others = all.filter(([other]) => other !== name).map(([, register]) => register)
    return { name, hasOwnDevices: !others.some(other => touches(other, homieTopics(homieDomain).root)) }
  })
}

const touches = ({ tally, openings, homieDomain }: Register, devices: string): boolean =>
  homieTopics(homieDomain).root === devices ||
  isInside(devices, tally) ||
  [tally, ...openings.map(({ topic }) => topic)].some(topic => isInside(topic, devices))

/**
 * Every account a house needs: one for each role, and one for each contact, named by its client id.
 * @param house - where others share its broker; absent: it is alone there
 * @param listed - the access list that this one takes the place of: its keeper may still take away the devices of
 * openings that are there no more, whichever comes first, its start or the new list
 */
export function accounts(
  register: Register,
  house?: SharingHouse,
  listed: readonly ListedHouse[] = [],
): readonly Account[] {
  const { tally, openings, homieDomain } = register
  const contacts = openings.map(({ topic }) => topic)
  const { all, says: say } = tallyTopics(tally).filters
  const isTelling = house?.hasOwnDevices !== false
  const { descriptions, states } = homieTopics(homieDomain)
  const keeperIs = isTelling ? 'the keeper' : 'the keeper; for --homie give each register a homieDomain of its own'
  const roles: readonly (Omit<Account, 'user'> & { readonly role: Role })[] = [
    { role: 'onlooker', what: 'a wall that only looks, with a keeper; a hub', reads: [all], writes: [] },
    { role: 'direct', what: 'a wall that counts for itself', reads: [all, ...contacts], writes: [] },
    { role: 'hand', what: 'a wall whose people may say what they saw', reads: [all], writes: [say] },
    { role: 'bench', what: 'prove, round, rehearse', reads: [all, ...contacts], writes: [say] },
    // It gives a broker that was rebuilt the contacts' rest words, and tells of the house as devices.
    {
      role: 'keeper',
      what: keeperIs,
      reads: [all, ...contacts, ...(isTelling ? [descriptions, states] : [])],
      writes: [all, ...contacts, ...(isTelling ? devicesOf(register, listed) : [])],
    },
  ]
  return [
    ...roles.map(each => ({ ...each, user: userOf(each.role, house?.name) })),
    ...openings.map(({ client, topic, mark }) => ({
      user: client,
      mark,
      what: `contact ${mark}`,
      reads: [],
      writes: [topic],
    })),
  ]
}

/** The devices of a house alone, those of its openings' earlier marks and of earlier openings too: they are taken away. */
function devicesOf({ tally, openings, homieDomain }: Register, listed: readonly ListedHouse[]): readonly string[] {
  const { of, takenInBy } = homieTopics(homieDomain)
  const marks = openings.map(({ mark }) => mark)
  const children = openings.flatMap(({ mark, was }) => [mark, ...was]).map(mark => mark.toLowerCase())
  const before = listed.filter(each => each.tally === tally).flatMap(({ writes }) => writes)
  const ids = [homieRoot(tally, marks), ...children, ...before.flatMap(filter => takenInBy(filter) ?? [])]
  return [...new Set(ids)].map(id => of(id).all)
}

const userOf = (role: Role, house: string | undefined): string => (house === undefined ? role : `${house}-${role}`)

/** Can stand in an access list and in a password file. */
const isUser = (name: string): boolean => /^[^\s:#%\p{C}][^:\p{C}]{0,63}$/u.test(name) && !/\s$/.test(name)

/**
 * Names that would break or widen an access list, each as a sentence.
 * @param house - as `accounts` takes it
 */
export function accessProblems({ tally, openings }: Register, house?: SharingHouse): readonly string[] {
  const roles = ROLES.map(role => userOf(role, house?.name))
  const user = roles.find(user => !isUser(user))
  return [
    ...(user === undefined
      ? []
      : [
          `an account cannot be named ${JSON.stringify(user)}: name the register's file with letters, digits and hyphens, 40 at most`,
        ]),
    ...topicProblems('the topic tally', tally),
    ...openings.flatMap(({ mark, client, topic }) => [
      ...(roles.includes(client)
        ? [`${mark}: the client id "${client}" is the name of a role's account; give it another`]
        : []),
      ...(isUser(client)
        ? []
        : [`${mark}: an account cannot be named ${JSON.stringify(client)}; 1 to 23 letters and digits can`]),
      ...topicProblems(`${mark}: the topic`, topic),
    ]),
  ]
}

function topicProblems(what: string, topic: string): readonly string[] {
  const fault = topicFault(topic)
  return fault ? [`${what} ${JSON.stringify(topic)} ${fault.says}: choose another`] : []
}

/** A house with its accounts, for the access list. */
export interface HouseToList {
  /** What comments call it. */
  readonly title: string
  readonly accounts: readonly Account[]
}

/**
 * Access list of a broker that keeps one as text: `user`, then `topic read|write FILTER` lines.
 * Who is not named may do nothing.
 */
export const accessListOf = (houses: readonly HouseToList[]): string =>
  houses
    .map(({ title, accounts }) => {
      const blocks = accounts.map(({ user, what, reads, writes }) =>
        [
          `# ${what}`,
          `user ${user}`,
          ...reads.filter(topic => !writes.includes(topic)).map(topic => `topic read ${topic}`),
          ...writes.map(topic => `topic ${reads.includes(topic) ? 'readwrite' : 'write'} ${topic}`),
        ].join('\n'),
      )
      return `${listHead(title)}\n\n${blocks.join('\n\n')}\n`
    })
    .join('\n')

/**
 * Of a house that is alone at its broker.
 * @throws RangeError with every name that an access list cannot hold
 */
export function accessList(register: Register): string {
  const problems = accessProblems(register)
  if (problems.length > 0) throw new RangeError(problems.join('; '))
  return accessListOf([{ title: register.house, accounts: accounts(register) }])
}
