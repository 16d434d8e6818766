// Where to stand: for a class, to see a mark, or to watch the leg. The score is a
// tint, the best places are a list and numbers on the map; one click stands there.

import { framed, post, stopped } from './api.js'
import { html } from './svg.js'
import { asked } from './state.js'
import { distance } from './units.js'
import { lines } from './words.js'

const RADII = [500, 1000, 2000, 5000, 10000]

const QUESTIONS = {
  class: { name: 'with a class: many marks to be seen', needs: () => true, ask: () => ({}) },
  see: { name: 'to see the chosen mark', without: 'Choose a mark first: a thing in the skyline, or a place on the map.', needs: s => s.mark, ask: s => ({ see: [asked(s.mark)] }) },
  goal: { name: 'to see the destination', without: 'Set the destination first.', needs: s => s.goal, ask: s => ({ see: [asked(s.goal)] }) },
  watch: { name: 'to watch someone walk the leg', without: 'Set start and destination first.', needs: s => s.start && s.goal, ask: s => ({ watch_from: asked(s.start), watch_to: asked(s.goal) }) }
}

const AROUND = {
  start: { name: 'the start', of: s => s.start, without: 'Set the start first, or look round another place.' },
  goal: { name: 'the destination', of: s => s.goal, without: 'Set the destination first, or look round another place.' },
  at: { name: 'the point looked from', of: s => s.at, without: 'Choose a point to look from first, or look round another place.' },
  middle: { name: 'the middle of the map', of: (s, view) => ({ x: view.x, y: view.y }) }
}

export class Stand {
  // on is shown(answer or null), stand(standpoint), point(standpoint or null), say(text).
  constructor(state, view, on) {
    Object.assign(this, { state, view, on, answer: null, control: null })
    const by = id => document.getElementById(id)
    this.form = by('stand-form')
    this.busy = by('standing')
    this.bar = by('standing-bar')
    this.words = by('standing-words')
    this.found = by('stand-found')
    this.said = by('stand-said')
    const select = (name, label, options, value) => {
      const e = html('select', { name }, ...options.map(([v, text]) => html('option', { value: v, text, selected: v === value })))
      return html('label', {}, label + ' ', e)
    }
    this.go = html('button', { type: 'submit', text: 'Find places to stand' })
    this.form.append(select('what', 'I want to stand', Object.entries(QUESTIONS).map(([k, q]) => [k, q.name])),
      html('div', { class: 'choices' }, select('radius', 'within', RADII.map(r => [String(r), distance(r)]), '2000'), select('around', 'of', Object.entries(AROUND).map(([k, a]) => [k, a.name]), state.start ? 'start' : 'middle')), this.go)
    this.form.addEventListener('change', () => this.refresh())
    this.form.addEventListener('submit', event => { event.preventDefault(); this.find() })
    by('standing-stop').addEventListener('click', () => this.control?.abort())
    this.refresh()
  }

  // refresh says what is missing for the question that is chosen.
  refresh() {
    const f = Object.fromEntries(new FormData(this.form)), q = QUESTIONS[f.what], a = AROUND[f.around]
    const missing = !q.needs(this.state) ? q.without : !a.of(this.state, this.view) ? a.without : ''
    this.go.disabled = Boolean(missing || this.control)
    document.getElementById('stand-needs').textContent = missing
  }

  async find() {
    if (this.control) return
    const f = Object.fromEntries(new FormData(this.form))
    const control = this.control = new AbortController()
    this.said.textContent = ''
    this.words.textContent = 'Looking over the ground …'
    this.bar.removeAttribute('value')
    this.busy.hidden = false
    this.refresh()
    try {
      const question = { around: asked(AROUND[f.around].of(this.state, this.view)), radius_m: Number(f.radius), ...QUESTIONS[f.what].ask(this.state) }
      const body = (await post('vantage', question, control.signal)).body
      const { parts } = await framed(body, p => this.progress(p))
      this.show(await new Blob(parts).arrayBuffer())
    } catch (e) {
      this.said.textContent = stopped(e) ? 'Stopped.' : e.message
    } finally {
      this.control = null
      this.busy.hidden = true
      this.refresh()
    }
  }

  progress({ label, done, total }) {
    this.words.textContent = label + ' …'
    if (total > 0) { this.bar.max = total; this.bar.value = done }
  }

  show(buffer) {
    const answer = this.answer = this.on.shown(buffer)
    const { text, standpoints } = answer
    const row = (s, i) => {
      const b = html('button', { type: 'button', class: 'plain', 'data-stand': s.rank, onclick: () => this.on.stand(s), onpointerenter: () => this.on.point(s), onpointerleave: () => this.on.point(null), onfocus: () => this.on.point(s), onblur: () => this.on.point(null) },
        html('span', { class: 'number', text: s.rank }), ' Stand here: ' + s.where)
      return html('li', {}, b, s.steep ? html('p', { class: 'warns', text: 'BEWARE steep ground on the straight line there' }) : null, html('p', { text: s.why }),
        html('details', {}, html('summary', { text: 'Marks and bearings' }), html('dl', {}, ...lines(text.sections[i].lines))))
    }
    const rest = text.sections.slice(standpoints.length)
    this.found.hidden = false
    this.found.replaceChildren(
      html('dl', {}, ...lines(text.first)),
      html('ol', { 'aria-label': 'Places to stand, best first' }, ...standpoints.map(row)),
      ...rest.map((s, i) => i < rest.length - 1 || rest.length === 1 && s.title === 'What was asked'
        ? html('details', {}, html('summary', { text: s.title }), html('dl', {}, ...lines(s.lines)))
        : html('dl', { class: 'last' }, ...lines(s.lines))),
      html('p', { class: 'quiet' }, 'The same: ', html('code', { text: answer.command })),
      html('button', { type: 'button', text: 'Take the numbers and the tint off the map', onclick: () => this.clear() }))
    this.on.say(`${standpoints.length} places to stand. ` + text.first.map(l => (l.label ? l.label + ': ' : '') + l.text).join('. '))
    this.mark()
  }

  // mark tells in the list which of the places is stood on.
  mark() {
    const at = this.state.eye === 'at' ? this.state.at?.text : null
    for (const b of this.found.querySelectorAll('[data-stand]')) {
      const s = this.answer?.standpoints[b.dataset.stand - 1]
      b.setAttribute('aria-pressed', String(Boolean(at && s?.place.text === at)))
    }
  }

  clear() {
    this.answer = null
    this.found.hidden = true
    this.found.replaceChildren()
    this.on.shown(null)
    this.go.focus()
  }
}
