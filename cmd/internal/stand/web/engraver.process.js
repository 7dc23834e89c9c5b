// The engraver, in a thread of its own: it alone may make machine code, and it can reach no
// address. Asked {id, music, width}, it answers {id, svg, style, measures, warnings, crowded}
// or {id, fault}; crowded says that a measure is too wide for the line.
import createVerovioModule from './engraver/verovio-module.mjs'
import { VerovioToolkit } from './engraver/verovio.mjs'

// What the engraver says while it works: warnings and faults.
let said = []
const listen = (...words) => { said.push(words.join(' ')) }
for (const way of ['log', 'info', 'warn', 'error']) console[way] = listen

const ready = createVerovioModule().then(module => new VerovioToolkit(module))

// options lay all lines on one long page of the width, which the sheet then shares out. Lines
// break where the page has them, if they are nearly full there.
function options(music, width) {
  return {
    scale: 100, pageWidth: Math.round(width), pageHeight: 60000, adjustPageHeight: true, breaks: /<print[^>]*new-(system|page)="yes"/.test(music) ? 'smart' : 'auto', breaksSmartSb: 0.62, svgViewBox: true,
    pageMarginTop: 0, pageMarginBottom: 0, pageMarginLeft: 36, pageMarginRight: 16, header: 'none', footer: 'none',
    expandNever: true, mnumInterval: 0, minLastJustification: 0.6, spacingSystem: 4, justificationSystem: 0,
    spacingLinear: 0.3, spacingNonLinear: 0.55, dynamDist: 1.5,
  }
}

// unnamed takes the part's name away from the staff: it stands at the head of the page.
function unnamed(music) { return music.replace(/<part-(name|abbreviation)>/g, '<part-$1 print-object="no">') }

// rhythmOf lists the measures as {id, length, events: [{id, at, length, rest}]}, in quarters
// from the measure's start, by the engraver's map of times.
function rhythmOf(toolkit) {
  const measures = []
  let end = 0
  for (const moment of toolkit.renderToTimemap({ includeMeasures: true, includeRests: true })) {
    const at = moment.qstamp
    end = Math.max(end, at)
    if (moment.measureOn) measures.push({ id: moment.measureOn, at, events: [] })
    const measure = measures[measures.length - 1]
    if (!measure) continue
    for (const id of moment.on ?? []) measure.events.push({ id, at: at - measure.at, rest: false })
    for (const id of moment.restsOn ?? []) measure.events.push({ id, at: at - measure.at, rest: true })
  }
  measures.forEach((m, i) => {
    m.length = (measures[i + 1]?.at ?? end) - m.at
    m.events.forEach((e, k) => { e.length = (m.events[k + 1]?.at ?? m.length) - e.at })
  })
  return measures
}

self.onmessage = async ({ data: { id, music, width } }) => {
  try {
    const toolkit = await ready
    said = []
    toolkit.setOptions(options(music, width))
    if (!toolkit.loadData(unnamed(music))) throw new Error('the engraver cannot read this page')
    if (toolkit.getPageCount() !== 1) throw new Error('the page is too long to engrave')
    const styles = [] // apart: the page's policy lets no drawing bring its own
    const svg = toolkit.renderToSVG(1).replace(/<style[^>]*>([^<]*)<\/style>/g, (_, style) => { styles.push(style); return '' })
    self.postMessage({ id, svg, style: styles.join('\n'), measures: rhythmOf(toolkit), warnings: said, crowded: said.some(w => w.includes('highly compressed')) })
  } catch (fault) {
    self.postMessage({ id, fault: `${fault.message ?? fault} ${said.join('; ')}` })
  }
}
