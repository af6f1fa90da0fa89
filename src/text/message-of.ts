/** What an error says; of anything else that was thrown, itself as text. */
export const messageOf = (error: unknown): string => (error instanceof Error ? error.message : String(error))
