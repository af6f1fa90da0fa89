/** Said wherever a cell is to be bought, changed or moved (IEC 60086-4; 16 CFR 1263, from memory). */
export const CELL_CAUTION =
  'No loose cell within reach of a child: swallowed, it kills; medical help at once. Never solder to one, never charge one.'
