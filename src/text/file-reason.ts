import { messageOf } from './message-of.ts'
import { own } from './own.ts'

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
export function fileReason(error: unknown): string {
  const code = (error as { readonly code?: string } | undefined)?.code
  const sentence = code === undefined ? undefined : own(SENTENCES, code)
  return sentence ?? messageOf(error)
}
