/** Sums over the lowest volts under load of a cell's sends, for a straight line: `j` is the send, `v` millivolts. */
export interface Line {
  readonly n: number
  readonly j: number
  readonly jj: number
  readonly v: number
  readonly vj: number
  readonly vv: number
}

const NOTHING: Line = { n: 0, j: 0, jj: 0, v: 0, vj: 0, vv: 0 }

/** Adds the volts of a send. @param send - its number in the life of the cell, 1 for the first */
export const addVolts = ({ n, j, jj, v, vj, vv }: Line = NOTHING, send: number, millivolts: number): Line => ({
  n: n + 1,
  j: j + send,
  jj: jj + send * send,
  v: v + millivolts,
  vj: vj + millivolts * send,
  vv: vv + millivolts * millivolts,
})
