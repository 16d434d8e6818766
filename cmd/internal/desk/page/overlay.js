// What is drawn over the map: the leg with what is known of it, marks with
// their rays, places, and where a pointer in a strip stands on the ground.
// Positions are metres on the plane; they are put on the screen anew when the
// map moves.

import { svg, perFrame, path } from './svg.js'

// A letter of a name is about so wide, CSS pixels.
const NAME_WIDTH = 7.5

const pairs = flat => {
  const out = []
  for (let i = 0; i + 1 < flat.length; i += 2) out.push([flat[i], flat[i + 1]])
  return out
}

export class Overlay {
  constructor(view) {
    this.view = view
    this.legs = []
    this.places = []
    this.stands = []
    this.marks = []
    this.chosen = null
    this.pointed = null
    this.cursor = null
    const root = document.getElementById('overlay')
    this.groups = {}
    for (const name of ['drift', 'hidden', 'steep-edge', 'legs', 'steep', 'rays', 'places', 'marks', 'chosen', 'pointed', 'cursor', 'middle', 'stands', 'handles']) {
      root.append(this.groups[name] = svg('g', { class: name, 'aria-hidden': name === 'handles' || name === 'stands' ? null : 'true' }))
    }
    this.draw = perFrame(() => this.drawNow())
    view.onChange(() => this.draw())
  }

  // show takes what is known of each leg: line, and drift, hidden, steep and
  // marks where the whole answer is there.
  show(legs) {
    this.legs = legs
    // on a route the number of the leg comes first, for each counts its own
    this.marks = legs.flatMap((l, i) => (l.marks ?? []).map(m => legs.length > 1 ? { ...m, label: `${i + 1}.${m.label}` } : m))
    this.draw()
  }

  setPlaces(places) { this.places = places; this.draw() }
  // setStands takes places to stand, and what a click on one does.
  setStands(stands, click) {
    this.stands = stands.map(s => ({ ...s, element: stand(s, click, at => this.setCursor(at ?? null)) }))
    this.groups.stands.replaceChildren(...this.stands.map(s => s.element))
    this.draw()
  }

  // mark tells which place is stood on.
  mark(text) {
    for (const { place, element } of this.stands) {
      element.classList.toggle('here', place.text === text)
      element.setAttribute('aria-pressed', String(place.text === text))
    }
  }

  setChosen(chosen) { this.chosen = chosen; this.draw() }
  setPointed(pointed) { this.pointed = pointed; this.draw() }
  setCursor(at) { this.cursor = at; this.draw() }

  line(flat, closed) {
    return path(pairs(flat).map(p => this.view.toScreen(...p))) + (closed ? 'Z' : '')
  }

  drawNow() {
    const { groups, view } = this
    const one = (group, d, cls) => groups[group].replaceChildren(...(d ? [svg('path', { d, class: cls })] : []))
    one('drift', this.legs.map(l => l.drift?.length ? this.line(l.drift, true) : '').join(''))
    one('hidden', this.legs.flatMap(l => l.hidden ?? []).map(f => this.line(f)).join(''))
    const steep = this.legs.flatMap(l => l.steep ?? []).map(f => this.line(f)).join('')
    one('steep-edge', steep)
    one('steep', steep)
    const lines = this.legs.map(l => this.line(l.line)).join('')
    groups.legs.replaceChildren(...(lines ? [svg('path', { d: lines, class: 'casing' }), svg('path', { d: lines, class: 'leg' })] : []))
    one('rays', this.marks.map(m => m.ray ? this.line(m.ray) : '').join(''))
    const taken = []
    groups.places.replaceChildren(...this.places.map(p => this.sign(p, taken)).filter(Boolean))
    const [mx, my] = [view.width / 2, view.height / 2]
    groups.middle.replaceChildren(svg('path', { d: path([[mx - 14, my], [mx - 4, my]], [[mx + 4, my], [mx + 14, my]], [[mx, my - 14], [mx, my - 4]], [[mx, my + 4], [mx, my + 14]]) }))
    const ends = this.legs.flatMap(l => [l.line.slice(0, 2), l.line.slice(-2)]).map(p => view.toScreen(...p))
    groups.marks.replaceChildren(...spread(ends, this.marks.map(m => ({ m, at: view.toScreen(m.x, m.y) })).filter(({ at }) => this.inside(at, 0)), view)
      .map(({ m, at, to }) => badge(at, to, m.label)))
    for (const { place, to, element } of spreadStands(this.stands.map(s => ({ ...s, at: view.toScreen(s.place.x, s.place.y) })))) {
      const [x, y] = view.toScreen(place.x, place.y)
      element.setAttribute('transform', `translate(${to[0].toFixed(1)} ${to[1].toFixed(1)})`)
      element.firstChild.setAttribute('d', Math.hypot(x - to[0], y - to[1]) > 1 ? path([[0, 0], [x - to[0], y - to[1]]]) : '')
    }
    this.drawRay(groups.chosen, this.chosen, 'ray chosen-ray')
    this.drawRay(groups.pointed, this.pointed, 'ray pointed-ray')
    const c = this.cursor && view.toScreen(...this.cursor)
    groups.cursor.replaceChildren(...(c ? [svg('path', { d: path([[c[0] - 9, c[1]], [c[0] + 9, c[1]]], [[c[0], c[1] - 9], [c[0], c[1] + 9]]) }), svg('circle', { cx: c[0], cy: c[1], r: 4 })] : []))
  }

  inside([px, py], rim = 20) { return px > -rim && py > -rim && px < this.view.width + rim && py < this.view.height + rim }

  // sign is a place and its name; the name is left out where it would cover
  // another's.
  sign(p, taken) {
    const at = this.view.toScreen(p.x, p.y)
    if (!this.inside(at)) return null
    const [x, y] = at, wide = p.name.length * NAME_WIDTH
    const free = !taken.some(b => x < b[0] + b[2] && b[0] < x + 9 + wide && Math.abs(y - b[1]) < 16)
    if (free) taken.push([x, y, 9 + wide])
    return svg('g', {}, svg('path', { d: `M${x - 5} ${y + 4}L${x} ${y - 5}L${x + 5} ${y + 4}Z`, class: 'place' }),
      free ? svg('text', { x: x + 9, y: y + 4, class: 'name', text: p.name }) : svg('title', { text: p.name }))
  }

  // drawRay draws the line from the eye to what is looked at, and its words.
  drawRay(group, ray, cls) {
    if (!ray) return group.replaceChildren()
    const end = this.view.toScreen(ray.x, ray.y)
    const children = [svg('path', { d: this.line(ray.ray), class: 'ray-casing' }), svg('path', { d: this.line(ray.ray), class: cls })]
    if (this.inside(end)) {
      if (ray.label) children.push(badge(end, end, ray.label))
      else children.push(svg('circle', { cx: end[0], cy: end[1], r: 4, class: 'ray-end' }))
    }
    if (ray.words) {
      // the words stand where the ray ends, or on it where that is off the map
      const from = this.view.toScreen(ray.ray[0], ray.ray[1])
      const [x, y] = this.inside(end) ? end : clip(from, end, this.view)
      const right = x > this.view.width / 2
      children.push(svg('text', { x: Math.min(Math.max(x + (right ? -12 : 12), 6), this.view.width - 6), y: Math.min(Math.max(y + 4, 16), this.view.height - 8), 'text-anchor': right ? 'end' : 'start', class: 'name', text: ray.words }))
    }
    group.replaceChildren(...children)
  }
}

// stand is a numbered place to stand: ink on the map, to be clicked.
function stand(s, click, point) {
  const press = event => { event.preventDefault(); event.stopPropagation(); click(s) }
  const at = [s.place.x, s.place.y]
  return svg('g', {
    class: 'stand', tabindex: 0, role: 'button', 'aria-label': `Stand at ${s.rank}, ${s.where}`, 'data-at': s.place.text,
    onclick: press, onpointerdown: event => event.stopPropagation(), onfocus: () => point(at), onblur: () => point(null),
    onkeydown: event => { if (event.key === 'Enter' || event.key === ' ') press(event) }
  }, svg('path', { class: 'tie' }), svg('rect', { x: -16, y: -16, width: 32, height: 32, class: 'focus' }), svg('rect', { x: -11, y: -10, width: 22, height: 20, class: 'body' }), svg('text', { y: 4.5, 'text-anchor': 'middle', text: s.rank }))
}

// spreadStands moves numbers apart that would cover one another.
function spreadStands(items) {
  const done = []
  for (const item of items) {
    let to = item.at
    for (let turn = 0; turn < 16 && done.some(d => Math.abs(d.to[0] - to[0]) < 24 && Math.abs(d.to[1] - to[1]) < 22); turn++) {
      to = [item.at[0] + (24 + 6 * turn) * Math.cos(turn * 2.4), item.at[1] + (24 + 6 * turn) * Math.sin(turn * 2.4)]
    }
    done.push({ ...item, to })
  }
  return done
}

const badgeWidth = label => Math.max(18, 8 + 7 * String(label).length)

// badge is a lettered mark at a place, tied to it where it had to move.
function badge(at, to, label) {
  const g = svg('g', { class: 'badge' })
  if (Math.hypot(at[0] - to[0], at[1] - to[1]) > 1) g.append(svg('path', { d: path([at, to]), class: 'tie' }))
  const wide = badgeWidth(label)
  g.append(svg('rect', { x: to[0] - wide / 2, y: to[1] - 9, width: wide, height: 18 }), svg('text', { x: to[0], y: to[1] + 4.5, 'text-anchor': 'middle', text: label }))
  return g
}

// spread moves badges apart that would cover one another, or a handle.
function spread(ends, items, view) {
  const done = ends.map(to => ({ to, half: 12 }))
  for (const item of items) {
    const half = badgeWidth(item.m.label) / 2
    const within = ([x, y]) => [Math.min(Math.max(x, half + 2), view.width - half - 2), Math.min(Math.max(y, 12), view.height - 12)]
    let to = within(item.at)
    for (let turn = 0; turn < 16 && done.some(d => Math.abs(d.to[0] - to[0]) < d.half + half + 2 && Math.abs(d.to[1] - to[1]) < 20); turn++) {
      const angle = turn * 2.4, far = 22 + 6 * turn
      to = within([item.at[0] + far * Math.cos(angle), item.at[1] + far * Math.sin(angle)])
    }
    done.push({ ...item, to, half })
  }
  return done.slice(ends.length)
}

// clip is where a line from a leaves the map on its way to b.
function clip(a, b, view) {
  let t = 1
  for (const [p, q, max] of [[a[0], b[0], view.width], [a[1], b[1], view.height]]) {
    if (q < 12) t = Math.min(t, (12 - p) / (q - p))
    if (q > max - 12) t = Math.min(t, (max - 12 - p) / (q - p))
  }
  t = Math.max(t, 0)
  return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
}

export { pairs }
