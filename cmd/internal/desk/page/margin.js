// The sheet's margin under the map: scale bar, norths, contour interval, key.

import { svg, set, path, html } from './svg.js'
import { roundLength, group, eastWest } from './units.js'
import { scored, STEPS, swatch } from './map.js'

// why is a level's interval, and the reason for it in the server's words, which
// begin with it.
const why = level => level.reason?.startsWith(level.interval) ? level.interval + ' apart' + level.reason.slice(level.interval.length) : level.interval + ' apart'

export class Margin {
  constructor(view, map, state) {
    Object.assign(this, { view, map, state, norths: null, shown: '' })
    view.onChange(() => this.draw())
  }

  draw() {
    const level = this.map.level
    this.bar()
    document.getElementById('ratio').textContent = level.scale ? `about 1:${group(level.scale)} on this screen` : ''
    document.getElementById('interval').textContent = !this.state.contours ? 'Contour lines are turned off.'
      : level.interval ? `Contour lines ${why(level)}. Every ${level.index_every}th is numbered.${level.warning ? ' ' + level.warning : ''}` : 'No contour lines at this scale: they would run together.'
    document.getElementById('closer').disabled = this.view.level === this.map.levels.length - 1
    document.getElementById('farther').disabled = this.view.level === 0
  }

  bar() {
    const b = document.getElementById('bar')
    const most = 150 * this.view.scale, { metres, figure, name } = roundLength(most)
    const wide = metres / this.view.scale, x = 14, parts = String(figure).startsWith('5') ? 5 : 4
    const boxes = Array.from({ length: parts }, (_, i) => svg('rect', { x: x + i * wide / parts, y: 16, width: wide / parts, height: 6, class: i % 2 ? 'light' : 'dark' }))
    set(b, { viewBox: '0 0 204 26', 'aria-label': `Scale bar: ${figure} ${name} is this long` })
    b.replaceChildren(...boxes, svg('text', { x, y: 11, 'text-anchor': 'middle', text: '0' }),
      svg('text', { x: x + wide / 2, y: 11, 'text-anchor': 'middle', text: Number((figure / 2).toFixed(3)) }),
      svg('text', { x: x + wide, y: 11, 'text-anchor': 'middle', text: `${group(figure)} ${name}` }))
  }

  // showNorths takes the norths of a place: true, grid and magnetic from one
  // foot, grid north up, angles as they are.
  showNorths(n, gridUp) {
    const arms = document.getElementById('north-arms'), words = document.getElementById('north-words')
    const up = []
    const conv = n.convergence_deg ?? 0
    up.push({ name: 'T', angle: gridUp ? -conv : 0, cls: 'true' })
    if (gridUp) up.push({ name: 'G', angle: 0, cls: 'grid' })
    if (n.declination_deg !== null) up.push({ name: 'M', angle: (gridUp ? -conv : 0) + n.declination_deg, cls: 'magnetic' })
    up.sort((a, b) => a.angle - b.angle)
    const long = 40, foot = [40, 58]
    const tip = a => [foot[0] + long * Math.sin(a * Math.PI / 180), foot[1] - long * Math.cos(a * Math.PI / 180)]
    // letters apart from one another, each above its arm
    const xs = up.map(a => tip(a.angle)[0])
    for (let k = 0; k < 40; k++) {
      for (let i = 1; i < xs.length; i++) {
        const over = 13 - (xs[i] - xs[i - 1])
        if (over > 0) { xs[i - 1] -= over / 2; xs[i] += over / 2 }
      }
    }
    set(arms, { viewBox: '0 0 80 62' })
    arms.replaceChildren(...up.flatMap((a, i) => [svg('path', { class: a.cls, d: path([foot, tip(a.angle)]) }), svg('text', { class: a.cls, x: xs[i], y: 13, 'text-anchor': 'middle', text: a.name })]))
    const said = []
    said.push(gridUp ? 'Grid north is up.' : 'True north is up in the middle of the map.')
    if (gridUp) said.push(`Grid is ${eastWest(conv)} of true.`)
    said.push(n.declination_deg === null ? 'Magnetic north is not known here.' : `Magnetic is ${eastWest(n.declination_deg)} of true${n.date ? ' on ' + n.date : ''}${n.model ? ' (' + n.model + ')' : ''}.`)
    words.textContent = said.join(' ')
    arms.setAttribute('aria-label', said.join(' '))
  }

  // key lists the signs that are on the map.
  key(on) {
    const sign = (cls, ...children) => svg('svg', { viewBox: '0 0 30 16', class: 'sign', 'aria-hidden': 'true' }, svg('g', { class: cls }, ...children))
    const rows = []
    const row = (name, picture) => rows.push({ name, picture })
    if (on.start) row('start', () => sign('handle start', svg('circle', { cx: 15, cy: 8, r: 6, class: 'body' }), svg('circle', { cx: 15, cy: 8, r: 1.6, class: 'dot' })))
    if (on.goal) row('destination', () => sign('handle goal', svg('path', { d: 'M15 1L22.5 14H7.5Z', class: 'body' }), svg('circle', { cx: 15, cy: 10, r: 1.6, class: 'dot' })))
    if (on.leg) row('leg', () => sign('legs', svg('path', { d: 'M1 8H29', class: 'leg' })))
    if (on.drift) row('how far off you may come out', () => sign('drift', svg('path', { d: 'M1 8L29 2V14Z' })))
    if (on.steep) row('30° or steeper', () => sign('', svg('g', { class: 'steep-edge' }, svg('path', { d: 'M1 8H29' })), svg('g', { class: 'steep' }, svg('path', { d: 'M1 8H29' }))))
    if (on.hidden) row('leg out of sight from its start', () => sign('', svg('g', { class: 'hidden' }, svg('path', { d: 'M1 8H29' })), svg('g', { class: 'legs' }, svg('path', { d: 'M1 8H29', class: 'leg' }))))
    if (on.marks) row('mark to sight', () => sign('', svg('g', { class: 'rays' }, svg('path', { d: 'M1 8H29' })), svg('g', { class: 'badge' }, svg('rect', { x: 11, y: 3, width: 10, height: 10 }))))
    if (on.eye) row('where you look from', () => sign('handle eye', svg('path', { d: 'M4 8Q15 -2 26 8Q15 18 4 8Z', class: 'body' }), svg('circle', { cx: 15, cy: 8, r: 2.6, class: 'dot' })))
    for (const s of on.tint ?? []) row(STEPS.find(t => t.value === s).name, () => swatch(STEPS.find(t => t.value === s)))
    for (const [i, name] of (on.score ?? []).entries()) row(name, () => swatch(scored(on.score.length)[i]))
    if (on.stands) row('place to stand', () => sign('stand', svg('rect', { x: 9, y: 2, width: 12, height: 12, class: 'body' })))
    if (on.places) row('your places', () => sign('', svg('path', { d: 'M10 12L15 3L20 12Z', class: 'place' })))
    const names = rows.map(r => r.name).join()
    if (names === this.shown) return
    this.shown = names
    document.getElementById('key').replaceChildren(...rows.map(r => html('li', {}, r.picture(), r.name)))
  }
}
