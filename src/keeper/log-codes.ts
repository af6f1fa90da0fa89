/** What a line of the keeper's log is of, and how much it matters; a person's eyes go by the sentence. */
export const LOG_LEVELS = {
  account: 'warning',
  'account-read': 'info',
  alerts: 'warning',
  'at-work': 'info',
  backup: 'warning',
  'backup-made': 'info',
  boots: 'warning',
  broker: 'info',
  clash: 'error',
  clock: 'warning',
  deaf: 'warning',
  disk: 'warning',
  ended: 'error',
  forecast: 'warning',
  foreign: 'warning',
  homie: 'warning',
  'house-came': 'info',
  'house-gone': 'info',
  houses: 'warning',
  'kept-again': 'info',
  'link-down': 'warning',
  'link-refused': 'warning',
  'link-up': 'info',
  'message-failed': 'error',
  'not-kept': 'error',
  older: 'warning',
  open: 'warning',
  page: 'info',
  queue: 'warning',
  recount: 'warning',
  recounting: 'info',
  refused: 'warning',
  register: 'warning',
  'register-read': 'info',
  'rest-words': 'info',
  'rest-words-refused': 'warning',
  restart: 'warning',
  seal: 'warning',
  session: 'warning',
  'session-moved': 'info',
  silent: 'error',
  store: 'error',
  waited: 'info',
} as const

/** What a line of the keeper's log is of. */
export type LogCode = keyof typeof LOG_LEVELS
/** How much a line of the keeper's log matters. */
export type LogLevel = (typeof LOG_LEVELS)[LogCode]

/** Takes a line for the person at the keeper's machine. */
export type Tell = (text: string, code: LogCode) => void
/** As `Tell`, of many houses: the last is the name of the house that the line is of. */
export type TellOfHouses = (text: string, code: LogCode, house?: string) => void
