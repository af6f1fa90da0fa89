import { fileURLToPath } from 'node:url'

/** Full path of a file of this package, from its source and from its build alike. */
export const inPackage = (path: string): string => fileURLToPath(new URL(`../../../${path}`, import.meta.url))

/** Full path of what lies in `src` beside its source, and in `dist` beside its build. */
export const besideCode = (path: string): string => fileURLToPath(new URL(`../../${path}`, import.meta.url))
