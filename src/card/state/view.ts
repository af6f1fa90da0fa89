export const VIEWS = ['sheet', 'schedule', 'elevations', 'leaving', 'home', 'round'] as const
export type View = (typeof VIEWS)[number]

/** Orders of the schedule. */
export const SORTS = ['urgency', 'room', 'side', 'mark'] as const
export type Sort = (typeof SORTS)[number]
