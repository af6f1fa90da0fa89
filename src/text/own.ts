/** The value of a record's own key: a name from outside, such as `constructor`, never finds what every object has. */
export const own = <T>(record: Readonly<Record<string, T>>, key: string): T | undefined =>
  Object.hasOwn(record, key) ? record[key] : undefined
