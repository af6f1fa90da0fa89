import { closeSync, fsyncSync, openSync } from 'node:fs'

/** Returns when a file, or what stands in a folder, is on the disk. */
export function flush(path: string): void {
  const file = openSync(path, 'r')
  try {
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
}
