import { own } from '../../text/own.ts'

const SENTENCES: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file or folder; check the path',
  EACCES: 'this user is not allowed to; check the rights of the file and of its folder',
  EPERM: 'this user is not allowed to; check the rights of the file and of its folder',
  EISDIR: 'it is a folder; name a file',
  ENOTDIR: 'a part of the path is a file and not a folder; check the path',
  EROFS: 'the disk is read-only; name another place',
  ENOSPC: 'the disk is full; free some space',
  EDQUOT: 'the disk space of this user is used up; free some',
  EMFILE: 'too many files are open; close some programs',
  ENAMETOOLONG: 'the name is too long; choose a shorter one',
  ELOOP: 'its symbolic links go round in a circle',
  ETXTBSY: 'another program holds it open; end that program',
  EBUSY: 'another program holds it open; end that program',
  EIO: 'the disk gave an error: it may be failing',
}

/** Why the operating system refused a file, in words for a person, and what to do. */
export function reason(error: unknown): string {
  const code = (error as NodeJS.ErrnoException | undefined)?.code
  const sentence = code === undefined ? undefined : own(SENTENCES, code)
  return sentence ?? (error instanceof Error ? error.message : String(error))
}

const LINKS: readonly (readonly [RegExp, string])[] = [
  [/ECONNREFUSED/, 'nothing listens there: is the broker running, and is this its port?'],
  [/ENOTFOUND|EAI_AGAIN/, 'no machine of that name was found: check the host in the register'],
  [/EHOSTUNREACH|ENETUNREACH|EHOSTDOWN/, 'there is no way to that machine: check the network'],
  [/ETIMEDOUT|connack timeout/, 'it does not answer: check the host, the port and what may stand between'],
  [/ECONNRESET|EPIPE/, 'it ended the connection: is this the port for this kind of address?'],
]

/** Why a broker could not be reached, in words for a person; a reason that is words already stays. */
export function linkReason(why: string): string {
  const found = LINKS.find(([pattern]) => pattern.test(why))
  const place = /\S+:\d+$/.exec(why)?.[0]
  return found ? `${place ? `${place}: ` : ''}${found[1]}` : why
}
