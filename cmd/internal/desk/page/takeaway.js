// Files to take away. The answer is a stream of frames: how far the work is,
// then the file, then that it is whole. What was cut off is never saved.

import { framed, post, stopped } from './api.js'
import { html } from './svg.js'
import { asked } from './state.js'

const select = (name, label, options) => html('label', {}, label + ' ', html('select', { name }, ...options.map(([value, text]) => html('option', { value, text: text ?? value }))))
const number = (name, label, value, min, max, step) => html('label', {}, label + ' ', html('input', { name, type: 'number', value, min, max, step, required: true }))

const PAPERS = [['A4'], ['A3'], ['Letter'], ['Tabloid']]
const SCALES = [5000, 10000, 15000, 20000, 24000, 25000, 30000, 40000, 50000, 62500, 100000].map(v => [v, '1:' + String(v).replace(/\B(?=(\d{3})+$)/g, ' ')])
const DRAWN = [['pdf', 'PDF'], ['svg', 'SVG'], ['png', 'PNG']]

// Each kind: its name, its choices, and what it asks for from these and the state.
const KINDS = {
  sheet: {
    name: 'Map sheet to scale', needs: s => s.set.length > 0 && 'a point on the map', most: 2,
    choices: () => [select('scale', 'Scale', SCALES), select('paper', 'Paper', PAPERS), select('format', 'As', DRAWN), html('label', {}, html('input', { type: 'checkbox', name: 'hidden' }), ' ground seen from the start')],
    ask: (s, f) => ({ turns: ends(s).map(asked), scale: Number(f.scale), paper: f.paper, format: f.format, relief: s.relief / 100, hidden: f.hidden === 'on' })
  },
  card: {
    name: 'Route card', needs: s => s.legs.length > 0 && s.whole,
    choices: () => [html('label', {}, 'Title ', html('input', { name: 'title', maxlength: 80 })), select('paper', 'Paper', PAPERS), select('format', 'As', [...DRAWN, ['txt', 'text']])],
    ask: (s, f) => ({ turns: s.set.map(asked), title: f.title, paper: f.paper, format: f.format })
  },
  profile: {
    name: 'Profile', needs: s => s.start && s.goal,
    choices: () => [select('format', 'As', DRAWN)],
    ask: (s, f) => ({ turns: ends(s).map(asked), format: f.format })
  },
  drill: {
    name: 'Drill round here', needs: s => s.eyePoint ?? s.start,
    choices: () => [select('level', 'Level', [['beginner'], ['intermediate'], ['leader']]), number('count', 'Questions', 10, 1, 60, 1), number('radius', 'Within km', 3, 0.5, 20, 0.5), number('seed', 'Number of the drill', 1, 0, 999999, 1),
      select('part', 'Part', [['both', 'questions and answers'], ['questions', 'questions alone'], ['key', 'answers alone']]), select('scale', 'Scale', SCALES), select('paper', 'Paper', PAPERS)],
    ask: (s, f) => ({ at: asked(s.eyePoint ?? s.start), radius_m: Number(f.radius) * 1000, level: f.level, count: Number(f.count), seed: Number(f.seed), part: f.part, scale: Number(f.scale), paper: f.paper })
  },
  gpx: { name: 'GPX for a receiver', needs: s => s.legs.length > 0 && s.whole, choices: () => [], ask: s => ({ turns: s.set.map(asked), title: '' }) },
  json: { name: 'JSON for programs', needs: s => s.legs.length > 0 && s.whole, choices: () => [], ask: s => ({ turns: s.set.map(asked) }) }
}

const ends = s => s.start && s.goal ? [s.start, s.goal] : s.set.slice(0, 1)

export class TakeAway {
  constructor(state) {
    this.state = state
    this.form = document.getElementById('take')
    this.busy = document.getElementById('taking')
    this.bar = document.getElementById('taking-bar')
    this.words = document.getElementById('taking-words')
    this.said = document.getElementById('taken')
    this.what = select('what', 'What', Object.entries(KINDS).map(([k, v]) => [k, v.name]))
    this.choices = html('div', { class: 'choices' })
    this.go = html('button', { type: 'submit', text: 'Make the file' })
    this.form.append(html('div', { class: 'choices' }, this.what), this.choices, this.go)
    this.what.querySelector('select').addEventListener('change', () => this.offer())
    this.form.addEventListener('submit', event => { event.preventDefault(); this.take() })
    document.getElementById('stop').addEventListener('click', () => this.control?.abort())
    this.offer()
  }

  get kind() { return this.what.querySelector('select').value }

  offer() {
    this.choices.replaceChildren(...KINDS[this.kind].choices())
    const scale = this.choices.querySelector('[name=scale]'), paper = this.choices.querySelector('[name=paper]')
    if (scale) scale.value = '25000'
    if (paper) paper.value = 'A4'
    this.refresh()
  }

  refresh() {
    const ready = KINDS[this.kind].needs(this.state)
    this.go.disabled = !ready || Boolean(this.control)
  }

  async take() {
    if (this.control) return
    const fields = Object.fromEntries(new FormData(this.form)), kind = this.kind
    const control = this.control = new AbortController()
    this.said.textContent = ''
    this.words.textContent = 'Starting …'
    this.bar.removeAttribute('value')
    this.busy.hidden = false
    this.refresh()
    try {
      const answer = await post('take/' + kind, KINDS[kind].ask(this.state, fields), control.signal, { alone: true })
      const { said, parts } = await framed(answer.body, p => this.progress(p))
      const file = { ...said, blob: new Blob(parts, { type: said.type }) }
      save(file)
      this.said.replaceChildren(`Saved ${file.name}.`, ...(file.warnings ?? []).map(w => html('p', { text: w })), ...(file.command ? [html('p', { class: 'quiet' }, 'The same: ', html('code', { text: file.command }), ' ' + fileNote(file.command, file.name))] : []))
    } catch (e) {
      this.said.textContent = stopped(e) ? 'Stopped: nothing was saved.' : e.message
    } finally {
      this.control = null
      this.busy.hidden = true
      this.refresh()
    }
  }

  progress({ label, done, total }) {
    this.words.textContent = label
    if (total > 0) { this.bar.max = total; this.bar.value = done }
  }
}

// fileNote says where the file of a route's command comes from: the command reads
// turning points from a file, which this page does not write on the machine.
export function fileNote(command, saved) {
  if (!command.includes(' route.gpx')) return ''
  return saved === 'route.gpx' ? 'It reads the file that was saved just now.' : 'First take away “GPX for a receiver”: the command reads its route.gpx, in the folder where you saved it.'
}

function save(file) {
  const url = URL.createObjectURL(file.blob)
  const a = html('a', { href: url, download: file.name })
  document.body.append(a)
  a.click()
  a.remove()
  setTimeout(() => URL.revokeObjectURL(url), 60000)
}
