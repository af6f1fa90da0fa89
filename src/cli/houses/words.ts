import type { Reason } from '../../keeper/publish/verdict.ts'
import type { Lang } from '../tally/wishes.ts'

/** What only the page of houses says; the rest it says in the wall's own words. */
export interface HousesWords {
  readonly title: string
  readonly noHouse: string
  allShut(houses: number): string
  mayBeOpen(houses: number, names: string): string
  noKeeper(houses: number, names: string): string
  notCertain(houses: number, names: string): string
  /** Houses that are kept no more, each as `goneSince`. */
  gone(each: string): string
  goneSince(name: string, at: string): string
  live: string
  liveAndSays: string
  /** The keeper goes on by an older register: the newer one is broken, or names what another house has. */
  liveBroken: string
  liveClash: string
  heard(at: string): string
  neverHeard: string
  /** Why a keeper is not live, as a sentence for people without a log that comes after one of the keeper. */
  readonly reasons: Readonly<Record<Reason, string>>
  noWall: string
  nothingKnown: string
  cell(mark: string, place: string): string
  now: string
  untried(marks: string): string
  by(day: string): string
  noScript: string
}

export const HOUSES_WORDS: Readonly<Record<Lang, HousesWords>> = {
  en: {
    title: 'Houses',
    noHouse: 'No house yet: each register that comes into the folder is one.',
    allShut: houses => (houses === 1 ? 'All shut.' : `All shut, in all ${houses} houses.`),
    mayBeOpen: (houses, names) => `In ${houses} ${houses === 1 ? 'house' : 'houses'} something may be open: ${names}.`,
    noKeeper: (houses, names) => `${houses} ${houses === 1 ? 'house has' : 'houses have'} no live keeper: ${names}.`,
    notCertain: (houses, names) => `${houses} ${houses === 1 ? 'house is' : 'houses are'} not certain: ${names}.`,
    gone: each => `Kept no more: ${each}.`,
    goneSince: (name, at) => `${name} since ${at}`,
    live: 'Keeper live',
    liveAndSays: 'Keeper live, with a message: its wall says what',
    liveBroken: 'Keeper live, by its older list: the newer one has errors or cannot be read',
    liveClash: 'Keeper live, by its older list: the newer one uses a name that another house has already',
    heard: at => `Keeper last heard ${at}`,
    neverHeard: 'Keeper not heard yet',
    reasons: {
      account: 'No account for the broker was found, or it cannot be read.',
      clash: 'The list of this house uses a name that another house has already.',
      ended: 'It could not begin, or has stopped; it is tried again by itself.',
      'link-down': 'The broker is not reached.',
      'link-refused': 'The broker does not let it in.',
      register: 'The list of windows has errors or cannot be read.',
      silent: 'The broker does not let it read and write.',
      begins: 'It begins.',
      store: 'It cannot write to its disk.',
      unsettled: 'The broker is not reached, or does not let it read and write.',
      beat: 'The broker takes no sign of life from it.',
    },
    noWall: 'No wall: the list of this house names no WebSocket address that this page can use.',
    nothingKnown: 'Nothing known',
    cell: (mark, place) => `Next cell: ${mark}, ${place}`,
    untried: marks => `Not heard yet, open each once to test: ${marks}`,
    now: 'now',
    by: day => `by ${day}`,
    noScript: 'This page needs JavaScript to stay live. Load it again to see what is known now.',
  },
  de: {
    title: 'Häuser',
    noHouse: 'Noch kein Haus: jedes Register, das in den Ordner kommt, ist eins.',
    allShut: houses => (houses === 1 ? 'Alles zu.' : `Alles zu, in allen ${houses} Häusern.`),
    mayBeOpen: (houses, names) =>
      `In ${houses} ${houses === 1 ? 'Haus' : 'Häusern'} ist vielleicht etwas offen: ${names}.`,
    noKeeper: (houses, names) => `${houses} ${houses === 1 ? 'Haus' : 'Häuser'} ohne Zähldienst: ${names}.`,
    notCertain: (houses, names) => `In ${houses} ${houses === 1 ? 'Haus' : 'Häusern'} ist etwas unklar: ${names}.`,
    gone: each => `Nicht mehr dabei: ${each}.`,
    goneSince: (name, at) => `${name} seit ${at}`,
    live: 'Zähldienst verbunden',
    liveAndSays: 'Zähldienst verbunden, mit einem Hinweis: er steht auf der Tafel',
    liveBroken: 'Zähldienst verbunden, mit der älteren Liste: die neuere hat Fehler oder ist nicht lesbar',
    liveClash:
      'Zähldienst verbunden, mit der älteren Liste: die neuere nennt einen Namen, den schon ein anderes Haus hat',
    heard: at => `Zähldienst zuletzt gehört ${at}`,
    neverHeard: 'Zähldienst noch nicht gehört',
    reasons: {
      account: 'Das Konto für den Broker fehlt oder ist nicht lesbar.',
      clash: 'Die Liste des Hauses nennt einen Namen, den schon ein anderes Haus hat.',
      ended: 'Er konnte nicht beginnen oder hat aufgehört; er versucht es von selbst wieder.',
      'link-down': 'Der Broker ist nicht erreichbar.',
      'link-refused': 'Der Broker lässt ihn nicht ein.',
      register: 'Die Liste der Fenster hat Fehler oder ist nicht lesbar.',
      silent: 'Der Broker lässt ihn nicht lesen und schreiben.',
      begins: 'Er beginnt.',
      store: 'Er kann nicht auf seine Platte schreiben.',
      unsettled: 'Der Broker ist nicht erreichbar oder lässt ihn nicht lesen und schreiben.',
      beat: 'Der Broker nimmt kein Lebenszeichen von ihm an.',
    },
    noWall: 'Keine Tafel: die Liste des Hauses nennt keine WebSocket-Adresse, die diese Seite nutzen kann.',
    nothingKnown: 'Nichts bekannt',
    cell: (mark, place) => `Nächste Batterie: ${mark}, ${place}`,
    untried: marks => `Noch nie gehört, zur Probe je einmal öffnen: ${marks}`,
    now: 'jetzt',
    by: day => `bis ${day}`,
    noScript: 'Ohne JavaScript bleibt diese Seite nicht aktuell. Neu laden zeigt, was jetzt bekannt ist.',
  },
}
