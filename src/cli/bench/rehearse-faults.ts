/** What can go wrong with a contact, and what is to be seen of it. */
export const FAULTS = {
  'dead-cell': 'it connects and fails before its word: only the rest word comes',
  'slow-join': 'its word comes much later than its kind is said to need',
  'wrong-topic': 'it speaks on a topic that the register does not have: to hub and wall it is silent',
  'twin-client-id':
    'the second contact has the client id of the first: the broker throws the first off, and its rest word comes at once',
  'no-acknowledgement':
    'the acknowledgement does not reach it: it says its word again, and the tally counts one opening',
  'will-not-retained':
    'its last will is not kept by the broker: a wall that starts later is given no word of its silence',
} as const
export type Fault = keyof typeof FAULTS
export const FAULT_NAMES = Object.keys(FAULTS) as Fault[]
