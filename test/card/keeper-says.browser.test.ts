import { expect } from 'chai'
import { EVENING } from './fixtures.ts'
import { type Wall, wall } from './wall.ts'

const iso = (at: number) => new Date(at).toISOString()
const says = async (w: Wall, more: object) => {
  const note = { v: 1, state: 'live', beat: iso(w.stage.now), since: iso(EVENING - 86_400_000), ...more }
  await w.hear('ropewalk/tally/keeper', JSON.stringify(note))
}
const lines = (w: Wall) => w.all('.bands p')
const PROBLEMS = [
  { code: 'not-kept' },
  { code: 'deaf', marks: ['W02'] },
  { code: 'session', from: iso(EVENING - 7_200_000), to: iso(EVENING - 3_600_000) },
  { code: 'older' },
  { code: 'seal' },
  { code: 'clock', seconds: -3_600 },
  { code: 'disk' },
  { code: 'store' },
  { code: 'backup' },
  { code: 'register' },
  { code: 'from-a-later-keeper' },
]
const TEXT = 'ropewalk.yaml has 2 errors; no backup: the disk is full'

describe('what the keeper says of itself', () => {
  it('is put into words here, and what only its builder can mend stands on the key', async () => {
    const w = await wall()
    await says(w, { problem: TEXT, problems: PROBLEMS })
    expect(lines(w)).to.deep.equal([
      'The keeper can note nothing at the moment: tell whoever looks after it.',
      'The keeper cannot hear W02: what opens there is missing.',
      'From 19:47 to 20:47 the keeper could not hear everything: openings may be missing.',
      'For a time the keeper could not hear everything: openings may be missing.',
      'The keeper’s clock was set, by 1 hr: times before and after do not compare.',
      'The keeper’s disk is nearly full: soon it can note nothing. Tell whoever looks after it.',
      'What the keeper has noted may be damaged: tell whoever looks after it.',
      'The list of windows cannot be read any more: the one before it still counts. Tell whoever looks after it.',
    ])
    expect(w.text('.strip')).to.not.include('backup')
    await w.press('What the signs mean')
    expect(w.text('.link-cell')).to.include(`The keeper says: ${TEXT}`)
  })

  it('in the language of the wall', async () => {
    const w = await wall({ attributes: { lang: 'de' } })
    await says(w, { problem: TEXT, problems: [...PROBLEMS.slice(0, 3), { code: 'disk' }, { code: 'store' }] })
    expect(lines(w)).to.deep.equal([
      'Der Zähldienst kann gerade nichts vermerken: bitte der Person Bescheid geben, die sich darum kümmert.',
      'Der Zähldienst kann W02 nicht hören: was dort geöffnet wird, fehlt.',
      'Von 19:47 bis 20:47 konnte der Zähldienst nicht alles hören: Öffnungen können fehlen.',
      'Der Speicher des Zähldienstes ist fast voll: bald kann er nichts mehr vermerken. Bitte der Person Bescheid geben, die sich darum kümmert.',
      'Was der Zähldienst vermerkt hat, ist vielleicht beschädigt: bitte der Person Bescheid geben, die sich darum kümmert.',
    ])
  })

  it('of a moment is told with the one time and its length, and on the key of a German wall in German', async () => {
    const missed = { code: 'session', from: iso(EVENING - 9_000), to: iso(EVENING - 1_000) }
    const english = await wall()
    await says(english, { problem: TEXT, problems: [missed] })
    expect(lines(english)).to.deep.equal([
      'Around 21:46, for 8 secs, the keeper could not hear everything: openings may be missing.',
    ])
    expect(english.text('.strip summary .unseen-by-eye')).to.equal('1 message')
    const w = await wall({ attributes: { lang: 'de' } })
    await says(w, { problem: TEXT, problems: [missed, { code: 'backup' }] })
    await w.press('Was die Zeichen bedeuten')
    expect(w.text('.link-cell')).to.include('Gegen 21:46 konnte der Zähldienst 8 Sek. lang nicht alles hören')
    expect(w.text('.link-cell')).to.include('für die Person, die sich um ihn kümmert: backup.')
    expect(w.text('.link-cell')).to.not.include(TEXT)
  })

  it('of a keeper that gives no codes is its text', async () => {
    const w = await wall()
    await says(w, { problem: 'the disk is full since 2026-11-25T20:47:00.000Z' })
    expect(lines(w)).to.deep.equal(['The keeper says: the disk is full since 20:47'])
  })

  it('is nothing where all is well', async () => {
    const w = await wall()
    await says(w, {})
    expect(lines(w)).to.deep.equal([])
  })
})
