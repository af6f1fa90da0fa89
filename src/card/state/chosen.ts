export const VIEWS = ['sheet', 'schedule', 'elevations', 'last-look', 'while-out', 'round', 'signs'] as const
export type View = (typeof VIEWS)[number]

/** Orders of the schedule. */
export const SORTS = ['urgency', 'room', 'side', 'mark'] as const
export type Sort = (typeof SORTS)[number]

/** What the person at the wall has chosen. */
export interface Chosen {
  readonly view: View
  readonly sort: Sort
  /** What is searched for. */
  readonly typed: string
  /** Page of the drawing that a person turned to. */
  readonly page: number
  /** Pages that the sheet has turned by itself since. */
  readonly turned: number
  /** The mark whose story is open. */
  readonly told: string | undefined
  /** The story was opened from the drawing. */
  readonly isFromPlan: boolean
  /** Beginning of what is shown to who comes home, milliseconds since the epoch. */
  readonly sinceHome: number | undefined
  /** The page is being printed. */
  readonly isPrinting: boolean
  /** Nobody has touched the sheet since it went back to the house by itself. */
  readonly isLeft: boolean
  /** When anybody last touched the sheet, milliseconds since the epoch. */
  readonly touchedAt: number
}

export const nothingChosen: Chosen = {
  view: 'sheet',
  sort: 'urgency',
  typed: '',
  page: 0,
  turned: 0,
  told: undefined,
  isFromPlan: false,
  sinceHome: undefined,
  isPrinting: false,
  isLeft: false,
  touchedAt: 0,
}

/** Milliseconds since anybody touched the sheet. */
export const idleFor = ({ touchedAt }: Chosen, now: number): number => Math.abs(now - touchedAt)
