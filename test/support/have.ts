import { programPath } from './missing.ts'

/** Whether a program is installed; see `needs` for a skip that says its reason. */
export const have = (program: string): boolean => programPath(program) !== undefined
