import type { Scene } from '../select/scene.ts'

export type Panel = 'story' | 'leaving' | 'home' | 'round' | 'signs'

/** On paper the house stands over its schedule, whatever is looked at. */
export function panelOf({ chosen: { told, view, isPrinting }, rowOf }: Scene): Panel | undefined {
  if (isPrinting) return undefined
  if (told !== undefined && rowOf(told)) return 'story'
  return view === 'leaving' || view === 'home' || view === 'round' || view === 'signs' ? view : undefined
}
