import { isDeepStrictEqual } from 'node:util'
import fc from 'fast-check'
import { Document, isCollection, isPair, isScalar, Pair, parse, Scalar, visit, type YAMLMap, type YAMLSeq } from 'yaml'
import type { Field, Wire } from '../../../src/emit/hub/field-names.ts'
import { PLAIN_WORDS } from '../../../src/protocol/plain.ts'

/** One opening of a made-up register, with every fact written out. */
export interface AnyOpening {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly kind: string
  readonly sender: keyof typeof SENDERS
  readonly topic: string
  readonly client: string
  readonly at?: { readonly side: string; readonly floor: number }
}

export const TALLY = 'ropewalk/tally'
const SENDERS = {
  coin: { reports: 'openings', cell: 'CR2032', qos: 1, words: { opened: 'opened', rest: 'asleep' } },
  yard: { reports: 'both', power: 'mains', qos: 2, words: { opened: 'ajar', closed: 'shut', gone: 'lost' } },
  bit: { reports: 'openings', cell: 'CR2032', qos: 0, words: { opened: '1', rest: '0' } },
} as const

export const registerText = (openings: readonly AnyOpening[], rest = 'asleep'): string =>
  JSON.stringify({
    house: 'Ropewalk Studios',
    timezone: 'Europe/Lisbon',
    broker: { mqtt: 'mqtt://broker.lan' },
    tally: TALLY,
    senders: { ...SENDERS, coin: { ...SENDERS.coin, words: { opened: 'opened', rest } } },
    openings,
  })

// No text of one pool stands in a text of another, or is put together by texts of others.
const MARKS = ['W01', 'D02', 'K-3', 'z9', 'Q10', 'm5', '7', 'no', 'W011', 'NULL']
const NAMES = [
  'Dye: room, west',
  "it's # here",
  '2026-01-01',
  'ünï 窓 😀',
  'col\tumn',
  '"quoted"',
  '*star',
  '{{braces}}',
  'ON',
  '12:30',
  'back\\slash',
  '- dash',
]
const ROOMS = ['Loft', 'Shop & store', 'Küche']
const TOPICS = [
  'far/one',
  'x y/é',
  'a/b:c',
  'p/%q',
  't/[5]',
  'deep/er/still',
  'u/',
  's/{b}',
  "v/it's",
  'w/#not'.replace('#', '.'),
]
const CLIENTS = ['cl1', 'cl2', 'cl3', 'cl4', 'cl5', 'cl6', 'cl7', 'cl8', 'cl9', 'cl10']
const KINDS = ['window', 'sash', 'casement', 'door', 'double-door', 'hatch']
const SIDES = ['south', 'east', 'north', 'west']

const pick = (pool: readonly string[], count: number) =>
  fc.shuffledSubarray([...pool], { minLength: count, maxLength: count })

/** Up to eight openings; the first four stand in the register, the others are there to be added. */
export const anyOpenings: fc.Arbitrary<AnyOpening[]> = fc
  .tuple(
    pick(MARKS, 8),
    pick(NAMES, 8),
    pick(TOPICS, 8),
    pick(CLIENTS, 8),
    fc.array(
      fc.record({
        room: fc.option(fc.constantFrom(...ROOMS), { nil: undefined }),
        kind: fc.constantFrom(...KINDS),
        sender: fc.constantFrom<keyof typeof SENDERS>('coin', 'yard', 'bit'),
        at: fc.option(fc.record({ side: fc.constantFrom(...SIDES), floor: fc.integer({ min: 0, max: 2 }) }), {
          nil: undefined,
        }),
      }),
      { minLength: 8, maxLength: 8 },
    ),
  )
  .map(([marks, names, topics, clients, rest]) =>
    rest.map(({ room, at, ...more }, i) => ({
      mark: marks[i]!,
      name: names[i]!,
      topic: topics[i]!,
      client: clients[i]!,
      ...more,
      ...(room !== undefined && { room }),
      ...(at && { at }),
    })),
  )

/** A field's value as the contract of hub profiles has it, written down apart from the code. */
export function factOf(opening: AnyOpening, field: Field, wire: Wire, rest = 'asleep'): string | number | undefined {
  const { words, qos } = SENDERS[opening.sender]
  const own: Partial<Record<Field, string | number | undefined>> = {
    mark: opening.mark,
    topic: opening.topic,
    client: opening.client,
    name: opening.name,
    room: opening.room,
    kind: opening.kind,
    side: opening.at?.side,
    floor: opening.at?.floor,
    opened: words.opened,
    rest: 'closed' in words ? words.closed : opening.sender === 'coin' ? rest : words.rest,
    gone: 'gone' in words ? words.gone : undefined,
    qos,
  }
  const plain: Partial<Record<Field, string | number>> = {
    topic: `${TALLY}/plain/${opening.mark}`,
    opened: PLAIN_WORDS[0],
    rest: PLAIN_WORDS[1],
    gone: PLAIN_WORDS[2],
    qos: 1,
  }
  return wire === 'tally' ? (plain[field] ?? own[field]) : own[field]
}

/** What stands at one place of an entry: fields and text, or a constant. */
export type Spot = { readonly parts: readonly (Field | { readonly text: string })[] } | { readonly constant: unknown }
export type FileShape = Spot | readonly FileShape[] | { readonly [key: string]: FileShape }
export const isSpot = (shape: FileShape): shape is Spot =>
  !Array.isArray(shape) && ('parts' in (shape as object) || 'constant' in (shape as object))

const CONSTANTS = [
  'plain',
  'yes',
  '~',
  '77',
  'tab\there',
  '# x',
  'two\nlines\n',
  '',
  ' lead',
  'trail ',
  'a: b',
  '0x1F',
  77,
  -2.5,
  1e30,
  true,
  false,
  null,
]
const KEYS = ['heading', 'x y', 'yes', '65', 'a/b', '~t', 'é:é', 'n', '- k', 'deep']
const BEFORE = ['', '', 'mqtt:', '(', '#', '\t', '→ ', '"']
const BETWEEN = [' / ', ': ', '__', ' → ', ') (', '\n', '|']

const spot = (fields: readonly Field[], words: readonly Field[]): fc.Arbitrary<Spot> =>
  fc.oneof(
    { weight: 3, arbitrary: fc.constantFrom(...fields, ...words).map(field => ({ parts: [field] })) },
    { weight: 2, arbitrary: fc.constantFrom(...CONSTANTS).map(constant => ({ constant })) },
    {
      weight: 3,
      arbitrary: fc
        .tuple(
          fc.constantFrom(...BEFORE),
          fc.array(fc.tuple(fc.constantFrom(...fields), fc.constantFrom(...BETWEEN)), { minLength: 1, maxLength: 3 }),
          fc.option(fc.constantFrom(...words), { nil: undefined }),
        )
        .map(([before, pairs, word]) => ({
          parts: [
            ...(before ? [{ text: before }] : []),
            ...pairs.flatMap(([field, text]) => [field, { text }]),
            ...(word ? [{ text: "'" }, word, { text: "'" }] : []),
          ],
        })),
    },
  )

const entryShape = (fields: readonly Field[], words: readonly Field[]): fc.Arbitrary<FileShape> => {
  const { shape } = fc.letrec<{ shape: FileShape }>(tie => ({
    shape: fc.oneof(
      { maxDepth: 2, depthSize: 'small' },
      { weight: 4, arbitrary: spot(fields, words) },
      { weight: 1, arbitrary: fc.array(tie('shape'), { minLength: 1, maxLength: 3 }) },
      {
        weight: 1,
        arbitrary: fc.dictionary(fc.constantFrom(...KEYS), tie('shape'), {
          minKeys: 1,
          maxKeys: 3,
          noNullPrototype: true,
        }),
      },
    ),
  }))
  return fc
    .tuple(
      fc.dictionary(fc.constantFrom(...KEYS), shape, { maxKeys: 4, noNullPrototype: true }),
      fc.constantFrom<Spot>({ parts: ['topic'] }, { parts: [{ text: 'mqtt:' }, 'topic'] }),
    )
    .map(([more, topic]) => ({ own: topic, ...more }))
}

export interface AnyHub {
  readonly openings: readonly AnyOpening[]
  readonly entry: FileShape
  readonly as: 'list' | 'map'
  /** Keys that lead to the place. */
  readonly path: readonly string[]
  readonly text: string
  /** Where the floor or the quality of service stands as a number: these are asked about. */
  readonly numbers: readonly (readonly [string, Field])[]
}

/** A hub's file with one entry by hand, for the first opening. */
export const anyHub: fc.Arbitrary<AnyHub> = anyOpenings.chain(openings => {
  const [model] = openings as [AnyOpening]
  const given = (['mark', 'topic', 'client', 'name', 'room', 'kind', 'side'] as const).filter(
    field => factOf(model, field, 'contact') !== undefined,
  )
  const words = (['opened', 'rest', 'gone'] as const).filter(field => factOf(model, field, 'contact') !== undefined)
  return (
    fc
      .record({
        entry: entryShape(given, words),
        number: fc.constantFrom<Field | undefined>('floor', 'qos', undefined),
        as: fc.constantFrom('list' as const, 'map' as const),
        path: fc.constantFrom([], ['ears'], ['house', 'a/b']),
        others: fc.integer({ min: 0, max: 2 }),
        isLast: fc.boolean(),
        seed: fc.nat(),
        eol: fc.constantFrom('\n', '\r\n'),
        mark: fc.boolean(),
        isCut: fc.boolean(),
      })
      .map(({ entry, number, as, path, others, isLast, seed, eol, mark, isCut }) => {
        const isNumber = number !== undefined && factOf(model, number, 'contact') !== undefined
        const shaped = isNumber ? { ...entry, number: { parts: [number] } as Spot } : entry
        const made = shapeValue(shaped, model, 'contact')
        const hand = Array.from({ length: others }, (_, i) => ({ kept: `by hand ${i}`, own: [i + 70] }))
        const key = `key-${model.mark}`
        const entries: unknown =
          as === 'list'
            ? isLast
              ? [...hand, made]
              : [made, ...hand]
            : Object.fromEntries([
                ...(isLast ? [] : [[key, made]]),
                ...hand.map((h, i) => [`hand${i}`, h]),
                ...(isLast ? [[key, made]] : []),
              ])
        const text = written(path, entries, seed).replaceAll('\n', eol)
        const cut = isCut && !/[|>][-+0-9]*\s/.test(text) ? text.slice(0, -eol.length) : text
        return {
          openings,
          entry: shaped,
          as,
          path,
          text: (mark ? '\uFEFF' : '') + cut,
          numbers: isNumber ? [['/number', number] as const] : [],
          made,
        }
      })
      // The library that writes the file folds some texts so that they read as others.
      .filter(({ text, path, made }) =>
        Object.values(path.reduce((held, key) => held[key], parse(text.replace(/^\uFEFF/, ''))) as object).some(
          held => {
            const { '<<': _merged, ...own } = held
            return isDeepStrictEqual(own, made)
          },
        ),
      )
  )
})

/** The value of a shape for one opening; LEFT where a field lacks. */
const LEFT = Symbol('left')
export function shapeValue(shape: FileShape, opening: AnyOpening, wire: Wire, rest?: string): unknown {
  if (isSpot(shape)) {
    if ('constant' in shape) return shape.constant
    const pieces = shape.parts.map(part => (typeof part === 'string' ? factOf(opening, part, wire, rest) : part.text))
    if (pieces.includes(undefined)) return LEFT
    return pieces.length === 1 ? pieces[0] : pieces.join('')
  }
  if (Array.isArray(shape))
    return shape.map(item => shapeValue(item, opening, wire, rest)).filter(item => item !== LEFT)
  return Object.fromEntries(
    Object.entries(shape as { [key: string]: FileShape })
      .map(([key, inner]) => [key, shapeValue(inner, opening, wire, rest)] as const)
      .filter(([, value]) => value !== LEFT),
  )
}

/** The entries in a whole file, in styles, with comments, anchors and merge keys that a seed chooses. */
function written(path: readonly string[], entries: unknown, seed: number): string {
  let state = seed
  const roll = (sides: number): number => {
    state = (Math.imul(state, 1_103_515_245) + 12_345) >>> 0
    return (state >>> 16) % sides
  }
  const place = [...path]
    .reverse()
    .reduce((held, key) => ({ [key]: held, last: { x: [71, 'tail'] } }), entries as object)
  const document = new Document(path.length ? { first: { y: 'no', z: [72] }, ...place } : place)
  const collection = document.getIn(path) as YAMLMap | YAMLSeq
  const inPlace = new Set<unknown>([
    collection,
    ...path.map((_, i) => document.getIn(path.slice(0, i + 1))),
    document.contents,
  ])
  visit(document, {
    Node(key, node, ways) {
      const isBelow = ways.some(way => way === collection)
      if (isCollection(node) && !inPlace.has(node)) node.flow = roll(4) === 0
      const isInFlow = ways.some(way => isCollection(way) && way.flow)
      if (isScalar(node) && typeof node.value === 'string' && key !== 'key') {
        const styles: Scalar.Type[] = [
          Scalar.PLAIN,
          Scalar.QUOTE_SINGLE,
          Scalar.QUOTE_DOUBLE,
          Scalar.BLOCK_LITERAL,
          Scalar.BLOCK_FOLDED,
        ]
        node.type = styles[roll(isInFlow ? 3 : 5)]!
      }
      if (
        isScalar(node) &&
        key !== 'key' &&
        !isInFlow &&
        node.type !== Scalar.BLOCK_LITERAL &&
        node.type !== Scalar.BLOCK_FOLDED &&
        roll(6) === 0
      )
        node.comment = ' mine\t# yes'
      if (!isInFlow && isBelow && isCollection(node) && roll(6) === 0) node.anchor = `n${roll(1000)}${ways.length}`
    },
    Pair(_key, pair, ways) {
      const isInFlow = ways.some(way => isCollection(way) && way.flow)
      if (!isInFlow && isScalar(pair.key) && roll(8) === 0) pair.key.commentBefore = ' a comment'
    },
  })
  if (roll(3) === 0 && path.length) mergeInto(document, collection)
  return document.toString({ indent: 2 + roll(3), indentSeq: roll(2) === 0, lineWidth: roll(2) ? 0 : 40 })
}

/** `base: &base {…}` at the head of the file, merged into the entry and repeated in it by an alias. */
function mergeInto(document: Document, collection: YAMLMap | YAMLSeq): void {
  const root = document.contents as YAMLMap
  const base = document.createNode({ 'm 1': 'merged', m2: [73] })
  base.anchor = 'base'
  root.items.unshift(new Pair(new Scalar('base'), base) as never)
  const entry = (collection.items as unknown[]).map(item => (isPair(item) ? item.value : item)) as YAMLMap[]
  const byHand = entry.find(item => item.items.every(({ key }) => (key as Scalar).value !== 'kept'))!
  if (byHand.flow) return
  byHand.items.push(new Pair(new Scalar('<<'), document.createAlias(base as never)) as never)
}
export const MERGED = { 'm 1': 'merged', m2: [73] }
