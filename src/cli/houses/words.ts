import type { Lang } from '../tally/wishes.ts'

/** What only the page of houses says; the rest it says in the wall's own words. */
export interface HousesWords {
  readonly title: string
  readonly noHouse: string
  allShut(houses: number): string
  mayBeOpen(houses: number, names: string): string
  noKeeper(houses: number, names: string): string
  notCertain(houses: number, names: string): string
  live: string
  liveAndSays: string
  /** The keeper goes on by an older register: the newer one is broken, or claims what another house has. */
  liveBroken: string
  liveClash: string
  heard(at: string): string
  neverHeard: string
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
    live: 'Keeper live',
    liveAndSays: 'Keeper live, with a message: its wall says what',
    liveBroken: 'Keeper live, by its older register: the newer one has errors or cannot be read',
    liveClash: 'Keeper live, by its older register: the newer one claims what another house has',
    heard: at => `Keeper last heard ${at}`,
    neverHeard: 'Keeper not heard yet',
    nothingKnown: 'Nothing known',
    cell: (mark, place) => `Next cell: ${mark}, ${place}`,
    untried: marks => `Never heard yet, open once: ${marks}`,
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
    live: 'Zähldienst verbunden',
    liveAndSays: 'Zähldienst verbunden, mit einem Hinweis: er steht auf der Tafel',
    liveBroken: 'Zähldienst verbunden, mit dem älteren Register: das neuere hat Fehler oder ist nicht lesbar',
    liveClash: 'Zähldienst verbunden, mit dem älteren Register: das neuere beansprucht, was ein anderes Haus hat',
    heard: at => `Zähldienst zuletzt gehört ${at}`,
    neverHeard: 'Zähldienst noch nicht gehört',
    nothingKnown: 'Nichts bekannt',
    cell: (mark, place) => `Nächste Batterie: ${mark}, ${place}`,
    untried: marks => `Noch nie gehört, einmal öffnen: ${marks}`,
    now: 'jetzt',
    by: day => `bis ${day}`,
    noScript: 'Ohne JavaScript bleibt diese Seite nicht aktuell. Neu laden zeigt, was jetzt bekannt ist.',
  },
}
