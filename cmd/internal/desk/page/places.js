// The fields of the points: any form of a place that the command line reads.

import { html } from './svg.js'
import { nameOf } from './state.js'

export class Places {
  // on is typed(i, text), clear(i), add().
  constructor(on) {
    this.on = on
    this.form = document.getElementById('fields')
    this.rows = []
    this.form.addEventListener('submit', event => event.preventDefault())
  }

  known(places) {
    document.getElementById('known').replaceChildren(...places.map(p => html('option', { value: p.name })))
  }

  // show takes the points in order, null for one that is not chosen. What is
  // being typed is left alone.
  show(turns) {
    if (turns.length !== this.rows.length) this.build(turns.length)
    turns.forEach((p, i) => {
      const row = this.rows[i]
      row.clear.disabled = !p
      if (row.typing) return
      row.input.value = p ? p.text ?? `${Math.round(p.x)} ${Math.round(p.y)}` : ''
      row.note.textContent = p ? [p.name && p.name !== p.text ? p.name : null, p.mgrs, p.elevation_m === null || p.elevation_m === undefined ? null : this.elevation(p.elevation_m)].filter(Boolean).join(' · ') : ''
    })
  }

  build(count) {
    this.rows = Array.from({ length: count }, (_, i) => {
      const name = nameOf(i, count), id = 'place-' + i
      const row = { typing: false }
      row.input = html('input', { id, list: 'known', spellcheck: 'false', autocapitalize: 'off', autocomplete: 'off', 'aria-describedby': `${id}-note ${id}-wrong`, placeholder: 'place, or click the map' })
      row.clear = html('button', { type: 'button', text: 'Clear', 'aria-label': 'Clear ' + name.toLowerCase() })
      row.note = html('p', { class: 'quiet', id: id + '-note' })
      row.wrong = html('p', { class: 'wrong', id: id + '-wrong', role: 'status' })
      row.input.addEventListener('input', () => { row.typing = true })
      row.input.addEventListener('change', () => this.read(i))
      row.input.addEventListener('keydown', event => {
        if (event.key === 'Enter') { event.preventDefault(); this.read(i) }
        if (event.key === 'Escape' && row.typing) { row.typing = false; this.wrong(i, ''); this.on.typed(i, null) }
      })
      row.clear.addEventListener('click', () => { row.typing = false; this.wrong(i, ''); this.on.clear(i) })
      row.element = html('div', { class: 'place-row' }, html('label', { for: id, text: name }), row.input, row.clear, row.note, row.wrong)
      return row
    })
    this.form.replaceChildren(...this.rows.map(r => r.element))
  }

  read(i) {
    const row = this.rows[i], text = row.input.value.trim()
    if (!row.typing) return
    if (!text) { row.typing = false; return this.on.clear(i) }
    if (row.asked === text) return // Enter, and then the field is left
    row.asked = text
    this.on.typed(i, text)
  }

  // wrong puts a message beside a field, or takes it away for ''. The field
  // keeps what was typed, so that it can be put right.
  wrong(i, message) {
    const row = this.rows[i]
    if (!row) return
    row.wrong.textContent = message
    row.asked = message ? row.asked : null
    if (message) row.input.setAttribute('aria-invalid', 'true')
    else row.input.removeAttribute('aria-invalid')
  }

  // right takes messages away that are not about what is being typed.
  right() { this.rows.forEach((row, i) => { if (!row.typing) this.wrong(i, '') }) }

  // settled says that what was typed has been taken.
  settled(i) {
    if (!this.rows[i]) return
    this.rows[i].typing = false
    this.wrong(i, '')
  }
}
