import type { Hands } from '../select/scene.ts'
import type { Act } from '../state/event.ts'
import type { Credentials } from '../world.ts'

interface On {
  act(act: Act): void
  /** The drawing has the focus. */
  isOnPlan(): boolean
  keepAccount(credentials: Credentials): void
  forgetAccount(): void
}

/** What a person can do on the sheet, as acts of the card. */
export function handsOf({ act, isOnPlan, keepAccount, forgetAccount }: On): Hands {
  return {
    view: view => act({ kind: 'show', view }),
    sort: sort => act({ kind: 'sort', sort }),
    type: text => act({ kind: 'type', text }),
    turnTo: page => act({ kind: 'turn-to', page }),
    tell: mark => act({ kind: 'tell', mark, fromPlan: isOnPlan() }),
    back: () => act({ kind: 'back' }),
    seenShut: (marks, unsure = false) => act({ kind: 'say', what: 'seen-closed', marks, unsure }),
    fitCell: mark => act({ kind: 'say', what: 'cell-fitted', marks: [mark], unsure: false }),
    fail: mark => act({ kind: 'say', what: 'failed', marks: [mark], unsure: false }),
    undo: deed => act({ kind: 'undo', deed }),
    since: time => act({ kind: 'since', time }),
    print: () => act({ kind: 'print' }),
    connect: (user, password) => {
      keepAccount({ user, password })
      act({ kind: 'account' })
    },
    forget: () => {
      forgetAccount()
      act({ kind: 'account' })
    },
    startRound: round => act({ kind: 'start-round', round }),
    endRound: () => act({ kind: 'end-round' }),
    leaveOut: natural => act({ kind: 'leave-out', natural }),
  }
}
