/** What holds for all commands with `--json`; manual and manual page say it. */
export const JSON_NOTE =
  'With `--json` a command prints one JSON value; `sashtally emit schema --of <command>` makes its JSON Schema. A later version may add fields.'
