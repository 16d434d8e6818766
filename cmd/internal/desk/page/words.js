// Answers in words: the server's own lines, those of the command line.

import { html } from './svg.js'

export class Words {
  constructor() {
    this.first = document.getElementById('first')
    this.more = document.getElementById('more')
    this.marked = document.getElementById('marked')
    this.cautions = document.getElementById('cautions')
    this.working = document.getElementById('working')
    this.open = new Set()
  }

  // show takes a TEXT. The last section holds the data and the cautions, which
  // are never folded away.
  show(text) {
    this.working.hidden = true
    this.stale(false)
    this.lead(text.first)
    const sections = [...text.sections], last = sections.pop()
    this.more.replaceChildren(...sections.map(s => {
      const details = html('details', { open: this.open.has(s.title) }, html('summary', { text: s.title }), html('dl', {}, ...lines(s.lines)))
      details.addEventListener('toggle', () => { this.open[details.open ? 'add' : 'delete'](s.title) })
      return details
    }))
    this.cautions.replaceChildren(...(last ? [html('h3', { text: last.title }), html('dl', {}, ...lines(last.lines))] : []))
  }

  lead(list) { this.first.replaceChildren(...lines(list)) }

  // quick shows what is known while a point moves, and takes away what was said
  // of the line before: it keeps its room, so that the page does not jump.
  quick(list) {
    this.first.replaceChildren(...lines(list.filter(l => l.text)))
    this.stale(true)
  }

  stale(is) { this.more.classList.toggle('stale', is) }

  // wait says that the words in sight are of the line alone, while the whole
  // answer is worked out.
  wait() { this.working.hidden = false }

  // none takes the answer away and says why there is none. What always holds
  // stays.
  none(why, cautions = []) {
    this.working.hidden = true
    this.stale(false)
    this.first.replaceChildren(...lines([{ label: '', text: why }]))
    this.more.replaceChildren()
    if (cautions.length) this.cautions.replaceChildren(html('h3', { text: 'Cautions' }), html('dl', {}, ...lines(cautions.map(text => ({ label: '', text })))))
  }

  mark(label, text) {
    if (!text) return this.marked.replaceChildren()
    this.marked.replaceChildren(html('h3', { text: 'The mark' }), html('dl', {}, ...lines(text.first)))
  }
}

const WARNS = new Set(['BEWARE', 'warning'])

// lines are rows of a list of terms.
export function lines(list) {
  return list.flatMap(({ label, text, fixed }) => {
    const warns = WARNS.has(label)
    // a line of a table stands as it is
    if (!label) return [html('dd', { class: fixed ? 'alone fixed' : 'alone', text })]
    return [html('dt', { class: warns ? 'warns' : null, text: label }), html('dd', { class: warns ? 'warns' : null, text })]
  })
}
