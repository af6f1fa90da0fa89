import type { Scene } from '../select/scene.ts'

export type Panel = 'story' | 'last-look' | 'while-out' | 'round' | 'signs'

/** On paper the house stands over its schedule, whatever is looked at. */
export function panelOf({ chosen: { told, view, isPrinting }, rowOf }: Scene): Panel | undefined {
  if (isPrinting) return undefined
  if (told !== undefined && rowOf(told)) return 'story'
  return view === 'last-look' || view === 'while-out' || view === 'round' || view === 'signs' ? view : undefined
}
