/** Ports that come with the contact program, and their files: for the desk, and a skeleton to write one's own from. */
export const CONTACT_PORTS = { posix: 'contact_posix.c', skeleton: 'contact_skeleton.c' } as const
export type ContactPort = keyof typeof CONTACT_PORTS
