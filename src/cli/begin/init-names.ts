/** Names of openings so far, whatever their case: two that are equal could not be told apart on the wall. */
export function takenNames() {
  const wheres = new Map<string, string>()
  const isTaken = (name: string): boolean => wheres.has(name.toLowerCase())
  return {
    isTaken,
    whereOf: (name: string): string | undefined => wheres.get(name.toLowerCase()),
    take: (name: string, where: string): void => void wheres.set(name.toLowerCase(), where),
    /** A free name to propose: with the side where the other is on another one, else with a number. */
    another(name: string, side: string): string {
      let free = wheres.get(name.toLowerCase())?.startsWith(`${side}, `) ? name : `${name} ${side}`
      for (let count = 2; isTaken(free); count++) free = `${name} ${count}`
      return free
    },
  }
}
