export type * from './ledger/types.ts'
export type * from './register/types.ts'
