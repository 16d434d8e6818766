// Elements, made without a string of markup: the policy of the page allows no
// inline style or script, and a name of a place is never read as markup.

const NS = 'http://www.w3.org/2000/svg'

function fill(e, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue
    if (name === 'text') e.textContent = value
    else if (name.startsWith('on')) e.addEventListener(name.slice(2), value)
    else e.setAttribute(name, value === true ? '' : value)
  }
  e.append(...children.filter(c => c !== null && c !== undefined))
  return e
}

export const svg = (name, attributes = {}, ...children) => fill(document.createElementNS(NS, name), attributes, children)
export const html = (name, attributes = {}, ...children) => fill(document.createElement(name), attributes, children)

// path is the d of lines through points [x, y].
export function path(...lines) {
  let d = ''
  for (const line of lines) {
    line.forEach(([x, y], i) => { d += (i ? 'L' : 'M') + x.toFixed(1) + ' ' + y.toFixed(1) })
  }
  return d
}

// set changes attributes of an element that is there.
export function set(e, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) e.removeAttribute(name)
    else if (name === 'text') e.textContent = value
    else e.setAttribute(name, value === true ? '' : value)
  }
}

// perFrame runs f once in the next frame, however often it is asked to.
export function perFrame(f) {
  let asked = false
  return () => {
    if (asked) return
    asked = true
    requestAnimationFrame(() => { asked = false; f() })
  }
}
