// The desk: what happens when something is pointed at, dragged or typed.

import { ask, get, onReach, post, stopped, Gone, Last, Latest } from './api.js'
import { GroundMap } from './map.js'
import { Handles } from './handles.js'
import { html, perFrame } from './svg.js'
import { Leg, fieldOf } from './leg.js'
import { Margin } from './margin.js'
import { Overlay, pairs } from './overlay.js'
import { Places } from './places.js'
import { Profile } from './profile.js'
import { Skyline } from './skyline.js'
import { Stand } from './stand.js'
import { State, asked, nameOf } from './state.js'
import { TakeAway, fileNote } from './takeaway.js'
import { View } from './view.js'
import { Words } from './words.js'
import { distance, elevation, units } from './units.js'

// A hand that holds still so long, in milliseconds, is shown skyline and marks.
const REST = 100
// A pointer so near to the leg, in CSS pixels, is on it.
const NEAR = 18
// Opening shows no finer ground than this many metres a pixel.
const FINEST_AT_FIRST = 4

const by = id => document.getElementById(id)
const state = new State()
let ground, view, map, overlay, handles, margin, take, standing, norths = null
let live = null // the points while one is held: turns, i or 'eye', place
let picked = null
let facts = {} // what the answer has, for the key

const words = new Words()

const places = new Places({
  typed: (i, text) => text === null ? places.show(state.turns) : typed(i, text),
  clear: i => clear(i)
})

const profile = new Profile(at => overlay?.setCursor(at ?? picked))

const skyline = new Skyline({
  point: ray => overlay.setPointed(ray),
  mark: thing => state.change('mark', { mark: skyline.isChosen(thing) && state.mark ? null : { x: thing.x, y: thing.y, words: thing.words, label: thing.label } })
})

const leg = new Leg({
  quick(question, answer) {
    if (live && question.moved) {
      live.done = question.moved
      live.place = answer.legs[question.i - question.first]?.from ?? answer.legs[question.i - question.first - 1].to
      if (live.turns.length === state.turns.length) places.show(live.turns.map((p, i) => i === live.i ? live.place : p))
    }
    showLegs()
    read()
    if (leg.answered && !live) words.lead(firstOf(leg.answer))
    by('profile-strip').dataset.at = question.moved ? `${question.moved.x} ${question.moved.y}` : ''
  },
  whole(answer, turns) {
    if (!live) by('map').dataset.answer = 'whole'
    showLegs()
    const first = firstOf(answer)
    words.show({ ...answer.text, first })
    by('command').textContent = answer.command
    by('command-note').textContent = fileNote(answer.command)
    say(first.map(l => (l.label ? l.label + ': ' : '') + l.text).join('. '))
  },
  working() {
    by('map').dataset.answer = 'part'
    words.wait()
  },
  wrong(e, first, question) {
    if (e instanceof Gone) return
    const count = question.count ?? question.turns.length
    const i = fieldOf(e, first, count)
    if (live) {
      live.wrong = e.message
      return reading('', '', e.message, '')
    }
    if (i !== null) places.wrong(i, e.message)
    words.none(e.message, ground?.cautions)
    reading('', '', e.message, '')
    by('map').dataset.answer = 'none'
    say(e.message)
  }
})

// firstOf are the first lines of an answer. A route has none of its own: what
// could hurt on any of its legs, and each leg's line, are never folded away.
function firstOf(answer) {
  if (answer.text.first?.length) return answer.text.first
  const legs = leg.legs.map((l, i) => ({ name: 'leg ' + (i + 1), ...l }))
  return [
    ...legs.filter(l => l.hazards).map(l => ({ label: 'BEWARE', text: `${l.name}: ${l.hazards}` })),
    ...legs.filter(l => l.words).map(l => ({ label: l.name, text: l.words }))
  ]
}

// One thing after another is said, not every frame of a drag.
function say(text) { by('said').textContent = text }

function trouble(text, ...more) {
  by('trouble').hidden = !text
  by('trouble').replaceChildren(...(text ? [html('p', { text }), ...more] : []))
}

// ---- opening

async function open() {
  try {
    ground = await (await get('ground')).json()
  } catch (e) {
    const again = html('button', { type: 'button', text: 'Try again', onclick: () => { trouble(''); open() } })
    if (e.code === 'token') return trouble('This page belongs to a desk that was stopped, or its address was cut short. Open the whole address that “crowline desk” printed.')
    reading('', '', 'The ground could not be read.', '')
    return trouble(e instanceof Gone ? 'crowline desk does not answer. Start it again, and open the address that it prints.' : 'The ground could not be read: ' + e.message, again)
  }
  trouble('')
  units.system = ground.options.units
  by('data').textContent = dataLine()
  by('data').title = by('data').textContent
  if (!state.restore()) state.open(ground.start)
  const levels = [...ground.tiles.levels].sort((a, b) => b.m_per_px - a.m_per_px)
  const e = ground.extent
  view = new View(by('overlay'), levels.map(l => l.m_per_px), [e.x_min, e.y_min, e.x_max, e.y_max])
  overlay = new Overlay(view)
  map = new GroundMap(ground, view, state, mapWrong)
  margin = new Margin(view, map, state)
  handles = new Handles(view, overlay.groups.handles, { begin, move, end, cancel, clear: id => clearHandle(id) })
  take = new TakeAway(state)
  standing = new Stand(state, view, {
    shown(buffer) {
      const score = map.showScore(buffer)
      overlay.setStands(score?.said.standpoints ?? [], standHere)
      const around = (score?.said.standpoints ?? []).map(s => [s.place.x, s.place.y])
      if (!around.every(p => view.holds(p))) view.fit([...around, ...state.set.map(p => [p.x, p.y])])
      showKey()
      return score?.said ?? null
    },
    stand: standHere, say,
    point: s => overlay.setCursor(s ? [s.place.x, s.place.y] : picked)
  })
  words.none('Set start and destination: click or tap the map, or type places.', ground.cautions)
  places.elevation = elevation
  places.known(ground.places)
  overlay.setPlaces(ground.places)
  view.onClick(pick)
  map.resize()
  begun()
  const shown = levels.findIndex(l => l.level === state.level)
  if (state.x !== null && state.y !== null && shown >= 0) {
    view.zoomTo(shown)
    view.moveTo(state.x, state.y)
    placed = true
  } else whole()
  view.onChange(keepView)
  state.onChange(changed)
  changed(new Set(['turns', 'at', 'mark', 'eye', 'tint', 'relief', 'contours']))
  listen()
  askNorths()
}

function dataLine() {
  const d = ground.elevation_data
  return `${d.demo ? 'Demo data: ' : ''}${d.name}, heights about every ${distance(ground.spacing_m)}`
}

function begun() {
  for (const touch of ['pointerdown', 'wheel', 'keydown']) document.addEventListener(touch, () => { placed = true }, { capture: true, once: true, passive: true })
  new ResizeObserver(() => {
    map.resize()
    if (!placed) whole()
  }).observe(by('frame'))
  new ResizeObserver(() => { profile.resize(); skyline.resize() }).observe(by('profile-strip'))
  new ResizeObserver(() => skyline.resize()).observe(by('sky'))
}

// placed: the map was moved by hand, or by a link; till then it shows the whole
// leg, whatever room the words beside it leave.
let placed = false

function whole() {
  const points = [...state.set, ...(state.eye === 'at' && state.at ? [state.at] : [])].map(p => [p.x, p.y])
  const e = ground.extent
  if (points.length > 1) view.fit(points)
  else if (points.length) { view.fit(points, FINEST_AT_FIRST * 2) } else view.fit([[e.x_min, e.y_min], [e.x_max, e.y_max]])
}

let keeping
function keepView() {
  clearTimeout(keeping)
  keeping = setTimeout(() => state.change('', { x: view.x, y: view.y, level: map.level.level }, { lasting: false }), 200)
}

// ---- showing

function changed(what) {
  by('undo').disabled = !state.undone
  by('redo').disabled = !state.redone
  by('undo').setAttribute('aria-label', state.undone ? 'Undo: ' + state.undone : 'Undo')
  by('redo').setAttribute('aria-label', state.redone ? 'Redo: ' + state.redone : 'Redo')
  by('contours').checked = state.contours
  by('relief').value = state.relief
  if (what.has('relief') || what.has('contours')) { map.draw(); margin.draw() }
  by('how').hidden = !state.start || !state.goal
  take.refresh()
  standing.refresh()
  standing.mark()
  overlay.mark(state.eye === 'at' ? state.at?.text : null)
  if (what.has('turns')) {
    setPicked(null)
    places.right()
    places.show(state.turns)
    legs()
    askNorths()
  }
  if (what.has('turns') || what.has('eye') || what.has('at') || what.has('tint')) {
    showHandles()
    showLook()
    look()
  }
  if (what.has('mark') || what.has('turns') || what.has('eye') || what.has('at')) askMark()
  showKey()
}

// legs asks for the legs of the points that are chosen.
function legs() {
  const some = leg.all(state.turns)
  if (some === undefined) {
    if (leg.answered) by('map').dataset.answer = 'whole'
    return showLegs()
  }
  if (!some) {
    leg.legs = []
    by('map').dataset.answer = 'none'
    by('command').textContent = by('command-note').textContent = ''
    showLegs()
    const missing = !state.start && !state.goal ? 'Click or tap the map to set the start.' : !state.start ? 'Set the start: click or tap the map, or type a place.' : 'Now the destination: drag the triangle, click or tap the map, or type a place.'
    words.none(missing, ground.cautions)
    reading('', '', missing, '')
  }
}

function showLegs() {
  overlay.show(leg.shown)
  profile.show(leg.shown)
  showKey()
}

// read puts the bearing to set and the line of the leg that moves, or of the
// first, above the map.
function read() {
  const n = live && live.i !== 'eye' && leg.legs[live.i - 1] ? live.i - 1 : 0
  const l = leg.legs[n] ?? leg.shown[0]
  if (!l) return
  const many = leg.shown.length > 1
  reading(l.set, many ? `leg ${n + 1} of ${leg.legs.length}` : 'on your compass', l.words, l.hazards)
  if (by('map').dataset.answer !== 'whole') words.quick([{ label: 'BEWARE', text: l.hazards }, { label: many ? 'leg ' + (n + 1) : 'walk', text: l.words }])
}

function reading(set, unit, walk, beware) {
  by('set-figure').textContent = set ? set + '°' : ''
  by('set-unit').textContent = unit
  by('set').hidden = !set
  by('walk').textContent = walk
  by('beware').textContent = beware ? 'BEWARE ' + beware : ''
  by('beware').hidden = !beware
}

function showHandles() {
  const turns = live?.turns ?? state.turns, n = turns.length
  const list = []
  turns.forEach((p, i) => {
    if (!p) return
    const name = nameOf(i, n), kind = i === 0 ? 'start' : i === n - 1 ? 'goal' : 'turn'
    list.push({ id: live?.id && live.i === i ? live.id : 'p' + i, kind, number: i, x: p.x, y: p.y, label: `${name}${p.name ? ', ' + p.name : ''}. Arrow keys move it, Delete clears it` })
    const q = turns[i + 1]
    if (q && (!live || live.i === 'eye')) {
      const x = (p.x + q.x) / 2, y = (p.y + q.y) / 2
      list.push({ id: 'add' + i, kind: 'add', number: '', x, y, room: true, label: `Turning point between ${name.toLowerCase()} and ${nameOf(i + 1, n).toLowerCase()}: move it to add one` })
    }
  })
  if (turns[0] && !turns[n - 1] && !(live && live.id === 'ghost')) {
    const from = turns[n - 2] ?? turns[0]
    // beside the last point, on the side where there is map
    const side = (v, middle) => v > middle ? -1 : 1
    list.push({ id: 'ghost', kind: 'ghost', number: '', x: from.x + 60 * view.scale * side(from.x, view.x), y: from.y + 30 * view.scale * side(from.y, view.y), label: 'Destination, not set: move it to the place' })
  }
  if (state.eye === 'at' && (live?.eye ?? state.at)) {
    const p = live?.eye ?? state.at
    list.push({ id: 'eye', kind: 'eye', number: '', x: p.x, y: p.y, label: `Point looked from${p.name ? ', ' + p.name : ''}. Arrow keys move it` })
  }
  handles.show(list)
}

function showKey() {
  if (!margin) return
  const shown = leg.shown, has = k => shown.some(l => l[k]?.length)
  const seen = state.tint && map.seen ? map.seen : null
  margin.key({
    start: state.start, goal: state.goal, leg: shown.length, drift: has('drift'), steep: has('steep'), hidden: has('hidden'), marks: overlay.marks.length || state.mark,
    eye: state.eye === 'at', score: map.score?.said.steps, stands: overlay.stands.length, tint: seen ? Object.keys(seen.masks).map(Number) : [], places: ground.places.length
  })
}

// ---- holding a point

function begin(id) {
  setPicked(null)
  clearTimeout(resting)
  leg.rest()
  if (id === 'eye') {
    live = { id, i: 'eye', turns: [...state.turns], eye: { ...state.at } }
  } else {
    const turns = [...state.turns], m = /^(p|add)(\d+)$/.exec(id), { x, y } = handles.place(id)
    let i = m ? Number(m[2]) : turns.length - 1
    if (m?.[1] === 'add') { turns.splice(++i, 0, { x, y }); leg.legs.splice(i, 0, leg.legs[i - 1]) }
    if (!turns[i]) turns[i] = { x, y }
    live = { id, i, turns }
  }
  if (id !== 'eye') by('map').dataset.answer = 'moving'
  showHandles()
  overlay.setChosen(null)
}

let resting
function move(id, x, y) {
  if (!live) return
  live.wrong = null
  if (live.i !== 'eye') by('map').dataset.answer = 'moving'
  if (live.i === 'eye') {
    live.eye = { x, y }
  } else {
    live.turns[live.i] = { x, y }
    const some = leg.move(live.turns, live.i)
    if (!some) {
      const h = map.height(x, y)
      reading('', '', h === undefined || Number.isNaN(h) ? 'No height here.' : 'Height here: ' + elevation(h), '')
    }
  }
  const eye = liveEye()
  if (eye && state.tint) seen.ask(eye, ground.view_radius_m)
  if (eye) { sky.stop(); wholeView.stop() }
  clearTimeout(resting)
  resting = setTimeout(rest, REST)
}

// liveEye is the eye's place where it is what moves.
function liveEye() {
  if (!live) return null
  if (live.i === 'eye') return live.eye
  if (state.eye === 'start' && live.i === 0) return live.turns[0]
  if (state.eye === 'goal' && live.i === live.turns.length - 1) return live.turns[live.i]
  return null
}

function rest() {
  if (!live) return
  const eye = liveEye()
  if (eye) sky.ask(eye)
  if (live.i === 'eye' || !live.place || live.done !== live.turns[live.i]) return
  leg.think(live.turns.map((p, i) => i === live.i ? live.place : p))
}

async function end(id, x, y) {
  clearTimeout(resting)
  const held = live
  if (!held) return
  const i = held.i
  let place = held.place && held.done && held.done.x === x && held.done.y === y ? held.place : null
  if (!place) {
    try {
      place = (await ask('place', { at: { x, y } }, undefined, { alone: true })).at
    } catch (e) {
      if (live === held) back(i, e)
      return
    }
  }
  if (live !== held) return
  live = null
  if (i === 'eye') return state.change('move the point looked from', { at: place })
  const turns = held.turns
  turns[i] = place
  const name = nameOf(i, turns.length).toLowerCase()
  state.change(held.id.startsWith('add') ? 'add a turning point' : `move ${name}`, { turns })
  if (held.id !== 'p' + i) handles.made.get('p' + i)?.focus({ preventScroll: true })
}

// back puts a point back where it was, and says why.
function back(i, e) {
  live = null
  leg.answered = null
  showHandles()
  places.show(state.turns)
  legs()
  look()
  askMark()
  if (i === 'eye') return by('sky-note').textContent = e.message
  const message = e instanceof Gone ? 'crowline desk does not answer: the point went back.' : e.message + ' The point went back to where it was.'
  const at = Math.min(i, state.turns.length - 1)
  places.wrong(at, message)
  say(message)
}

function cancel() {
  clearTimeout(resting)
  if (!live) return
  live = null
  leg.answered = null
  showHandles()
  places.show(state.turns)
  legs()
  look()
  askMark()
}

function clearHandle(id) {
  const m = /^p(\d+)$/.exec(id)
  if (m) clear(Number(m[1]))
  else if (id === 'eye') state.change('clear the point looked from', { eye: 'start', at: null })
}

function clear(i) {
  if (!state.turns[i]) return places.show(state.turns)
  const turns = [...state.turns], name = nameOf(i, turns.length).toLowerCase()
  if (i > 0 && i < turns.length - 1) turns.splice(i, 1)
  else turns[i] = null
  places.wrong(i, '')
  state.change('clear ' + name, { turns })
  say('Cleared: ' + name)
  by('place-' + Math.min(i, turns.length - 1))?.focus()
}

async function typed(i, text) {
  try {
    const { at } = await ask('place', { at: { text } }, undefined, { alone: true })
    places.settled(i)
    const turns = [...state.turns]
    turns[i] = at
    state.change(`set ${nameOf(i, turns.length).toLowerCase()}`, { turns })
    places.show(state.turns)
    if (!state.set.every(p => view.holds([p.x, p.y]))) whole()
  } catch (e) {
    places.wrong(i, e instanceof Gone ? 'crowline desk does not answer.' : e.message)
  }
}

// ---- a place that is pointed at

function setPicked(place) {
  picked = place ? [place.x, place.y] : null
  overlay?.setCursor(picked)
  by('here').hidden = !place
}

async function pick(x, y) {
  let at, utm
  try {
    ({ at, utm } = await ask('place', { at: { x, y } }, undefined, { alone: true }))
  } catch (e) {
    setPicked(null)
    if (!(e instanceof Gone)) { by('pointer').textContent = e.message; say(e.message) }
    return
  }
  const set = (i, what) => { const turns = [...state.turns]; turns[i] = at; state.change(what, { turns }) }
  if (!state.start) return set(0, 'set start')
  if (!state.goal) return set(state.turns.length - 1, 'set destination')
  setPicked(at)
  by('here-words').textContent = [at.name, at.text, utm, elevation(at.elevation_m)].filter(Boolean).join(' · ')
  const button = (text, f) => html('button', { type: 'button', text, onclick: f })
  by('here-tools').replaceChildren(
    button('Start here', () => set(0, 'set start')),
    button('Destination here', () => set(state.turns.length - 1, 'set destination')),
    button('Turn here', () => { const turns = [...state.turns]; turns.splice(nearestLeg(at) + 1, 0, at); state.change('add a turning point', { turns }) }),
    button('Look from here', () => { setPicked(null); state.change('look from a point', { eye: 'at', at }) }),
    button('Make it the mark', () => { setPicked(null); state.change('mark', { mark: at }) }),
    button('Close', () => { setPicked(null); by('overlay').focus({ preventScroll: true }) }))
  say('Place picked: ' + by('here-words').textContent)
}

// nearestLeg is the leg that a detour over a place lengthens least.
function nearestLeg(at) {
  let best = 0, least = Infinity
  for (let i = 0; i + 1 < state.turns.length; i++) {
    const a = state.turns[i], b = state.turns[i + 1]
    if (!a || !b) continue
    const more = Math.hypot(a.x - at.x, a.y - at.y) + Math.hypot(b.x - at.x, b.y - at.y) - Math.hypot(a.x - b.x, a.y - b.y)
    if (more < least) { least = more; best = i }
  }
  return best
}

// ---- looking: skyline, ground seen, the mark

const sky = new Last(async (signal, eye) => {
  try {
    const answer = await ask('skyline', { at: asked(eye) }, signal)
    skyline.show(answer, { facing: turned ? undefined : facing(), line: facing(), declination: norths?.declination_deg, chosen: state.mark })
    by('look').dataset.answer = answer.at.text
    if (state.mark) askMark()
  } catch (e) {
    if (stopped(e) || e instanceof Gone) return
    skyline.show(null, { why: e.message })
  }
})

async function askSeen(signal, eye, radius) {
  try {
    const answer = await post('view', { at: asked(eye), radius_m: radius, steps: radius > 0 ? 2 : 3 }, signal)
    const said = map.show(await answer.arrayBuffer()).said
    by('seen-words').textContent = said.words ?? ''
    by('look').dataset.seen = `${said.at.x} ${said.at.y}`
    showKey()
  } catch (e) {
    if (stopped(e) || e instanceof Gone) return
    map.show(null)
    by('seen-words').textContent = e.message
  }
}
const seen = new Latest(askSeen)
const wholeView = new Last(askSeen)

let turned = false, before = ''
function look() {
  const eye = state.eyePoint
  const now = eye ? `${eye.x} ${eye.y} ${state.tint}` : ''
  const from = `${state.eye} ${state.set.map(p => p.text).join()}`
  if (from !== before) { before = from; turned = false }
  if (!eye) {
    sky.stop()
    skyline.show(null, { why: state.eye === 'goal' ? 'Set the destination to look from it.' : 'Set the start to see its skyline.' })
  } else sky.ask(eye)
  if (!eye || !state.tint) {
    seen.stop()
    wholeView.stop()
    map.show(null)
    by('seen-words').textContent = ''
    by('look').dataset.seen = ''
  } else { seen.stop(); wholeView.ask(eye, 0) }
  return now
}

// facing is the way of the leg from where the eye is.
function facing() {
  const first = leg.legs[0], last = leg.legs[leg.legs.length - 1]
  if (state.eye === 'goal') return last?.bearing?.back_true_deg
  if (state.eye === 'start') return first?.bearing?.true_deg
  return undefined
}

const mark = new Last(async (signal, from, to) => {
  try {
    const answer = await ask('mark', { from: asked(from), mark: asked(to) }, signal)
    const words_ = { first: [...(to.words ? [{ label: 'mark', text: to.words }] : to.name ? [{ label: 'mark', text: to.name }] : []), ...answer.text.first] }
    words.mark(to.label, words_)
    overlay.setChosen({ ray: answer.ray, x: to.x, y: to.y, label: to.label ?? '×', words: '' })
  } catch (e) {
    if (stopped(e) || e instanceof Gone) return
    overlay.setChosen(null)
    words.mark('', { first: [{ label: '', text: e.message }] })
  }
})

function askMark() {
  const from = state.eyePoint ?? state.start
  skyline.choose(state.mark)
  if (!state.mark || !from) {
    mark.stop()
    overlay.setChosen(null)
    words.mark('', null)
    return
  }
  mark.ask(from, state.mark)
}

function showLook() {
  if (!by('seen-words')) {
    const radio = (value, text) => html('label', {}, html('input', { type: 'radio', name: 'eye', value, onchange: () => eyeChosen(value) }), ' ' + text)
    by('look-tools').replaceChildren(
      html('span', { role: 'radiogroup', 'aria-label': 'Looking from' }, html('span', { class: 'quiet', text: 'Looking from ' }), radio('start', 'start'), radio('goal', 'destination'), radio('at', 'a point')),
      html('label', {}, html('input', { type: 'checkbox', id: 'tint-on', onchange: e => state.change('tint', { tint: e.target.checked }) }), ' Hatch ground out of sight'),
      html('span', { id: 'seen-words', class: 'quiet', role: 'status' }))
  }
  for (const r of document.querySelectorAll('input[name=eye]')) r.checked = r.value === state.eye
  by('tint-on').checked = state.tint
}

function eyeChosen(value) {
  if (value !== 'at') return state.change('look from the ' + (value === 'goal' ? 'destination' : 'start'), { eye: value })
  const at = state.at ?? { x: view.x, y: view.y }
  ask('place', { at: asked(at) }, undefined, { alone: true })
    .then(a => state.change('look from a point', { eye: 'at', at: a.at }))
    .catch(e => { showLook(); if (!(e instanceof Gone)) by('seen-words').textContent = e.message })
}

// standHere looks from a place to stand: skyline, ground seen and rays are its own.
function standHere(s) {
  state.change('stand at ' + s.rank, { eye: 'at', at: s.place })
  if (!view.holds([s.place.x, s.place.y])) view.moveTo(s.place.x, s.place.y)
  say(`You stand at ${s.rank}: ${s.where}. ${s.why}`)
}

// ---- norths

async function askNorths() {
  const at = state.start ?? { x: view.x, y: view.y }
  try {
    const answer = await ask('place', { at: asked(at) }, undefined, { alone: true })
    norths = answer.norths
    margin.showNorths(norths, ground.plane.kind === 'utm')
    skyline.declination = norths.declination_deg
    skyline.draw()
  } catch { /* the diagram stays as it is: the bearings of the leg have their own */ }
}

// ---- the rest of the page

function mapWrong(e) {
  if (e instanceof Gone) return
  const note = by('map-note')
  note.hidden = false
  note.replaceChildren('Part of the map could not be drawn: ' + e.message + ' ', html('button', { type: 'button', text: 'Try again', onclick: () => { note.hidden = true; map.again() } }))
}

onReach(yes => {
  if (!yes) {
    return trouble('crowline desk does not answer. What you see may be out of date. If it was stopped, start it again and open the address that it prints; this page asks once a second whether it is back.')
  }
  trouble('')
  if (!map) return open()
  map.again()
  leg.answered = leg.asked = null
  changed(new Set(['turns', 'eye', 'at', 'mark', 'tint']))
})

function listen() {
  by('undo').addEventListener('click', () => { say('Undone: ' + state.undone); state.undo() })
  by('redo').addEventListener('click', () => { say('Done again: ' + state.redone); state.redo() })
  addEventListener('keydown', event => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches('input, select')) return
    const key = event.key.toLowerCase()
    if (key === 'z' && !event.shiftKey) { event.preventDefault(); by('undo').click() }
    if (key === 'y' || key === 'z' && event.shiftKey) { event.preventDefault(); by('redo').click() }
  })
  by('closer').addEventListener('click', () => view.zoomTo(view.level + 1))
  by('farther').addEventListener('click', () => view.zoomTo(view.level - 1))
  by('whole').addEventListener('click', whole)
  by('contours').addEventListener('change', e => state.change('', { contours: e.target.checked }, { lasting: false }))
  by('relief').addEventListener('change', e => state.change('', { relief: Number(e.target.value) }, { lasting: false }))
  by('sky').addEventListener('pointerdown', () => { turned = true })
  by('sky').addEventListener('keydown', () => { turned = true })

  let over = null
  const point = perFrame(() => {
    if (!over || live) return
    const [x, y] = view.toPlane(...over)
    const h = map.height(x, y)
    const utm = ground.plane.kind === 'utm' ? `${ground.plane.zone}${ground.plane.south ? 'S' : 'N'} ${Math.round(x)} E ${Math.round(y)} N` : ''
    by('pointer').textContent = [utm, h === undefined ? '…' : Number.isNaN(h) ? 'no height known' : elevation(h)].filter(Boolean).join(', ')
    profile.setAt(onLeg(over), { tell: false })
    if (skyline.answer) skyline.setAt(skyline.bearingTo(x, y), { tell: false })
  })
  by('overlay').addEventListener('pointermove', event => { over = view.at(event); point() })
  by('overlay').addEventListener('pointerleave', () => {
    over = null
    profile.setAt(null, { tell: false })
    skyline.setAt(null, { tell: false })
  })

  by('link').addEventListener('click', link)
  by('copy-command').addEventListener('click', () => copy(by('command').textContent, by('link-note'), 'The command is copied.'))
}

// onLeg is how far along the legs a pixel of the map is, or null where it is on none.
function onLeg(pixel) {
  let best = null, least = NEAR
  for (const l of profile.legs) {
    const line = pairs(l.line).map(p => view.toScreen(...p))
    const total = line.slice(1).reduce((sum, q, i) => sum + Math.hypot(q[0] - line[i][0], q[1] - line[i][1]), 0)
    let before = 0
    for (let i = 1; i < line.length; i++) {
      const [a, b] = [line[i - 1], line[i]], long = Math.hypot(b[0] - a[0], b[1] - a[1])
      if (!long) continue
      const t = Math.min(Math.max(((pixel[0] - a[0]) * (b[0] - a[0]) + (pixel[1] - a[1]) * (b[1] - a[1])) / long / long, 0), 1)
      const off = Math.hypot(pixel[0] - a[0] - t * (b[0] - a[0]), pixel[1] - a[1] - t * (b[1] - a[1]))
      if (off < least) { least = off; best = l.from + (before + t * long) / total * l.length }
      before += long
    }
  }
  return best
}

async function link() {
  const note = by('link-note')
  try {
    const answer = await ask('state', { state: { ...state.told() } }, undefined, { alone: true })
    by('link-text').hidden = false
    by('link-text').value = answer.link
    await copy(answer.link, note, 'The link is copied. Open it with: ' + answer.command, by('link-text'))
  } catch (e) {
    note.textContent = e.message
  }
}

async function copy(text, note, done, field) {
  try {
    await navigator.clipboard.writeText(text)
    note.textContent = done
  } catch {
    field?.select()
    note.textContent = field ? done.replace('is copied', 'is in the field') : 'This browser does not let the page copy: select the line and copy it.'
  }
}

open()
