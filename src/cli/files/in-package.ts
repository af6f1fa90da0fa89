import { fileURLToPath } from 'node:url'

/** Full path of a file of this package, from its source and from its build alike. */
export const inPackage = (path: string): string => fileURLToPath(new URL(`../../../${path}`, import.meta.url))
