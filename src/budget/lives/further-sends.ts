/** Further sends up to here are each computed; beyond them the steps grow by an eighth. */
export const EACH_UNTIL = 48

export const nextStep = (sends: number): number => sends + (sends < EACH_UNTIL ? 1 : Math.floor(sends / 8))
