// Figures of the page's own readings: scale bar, axes, what is under a pointer.
// Everything said of a leg comes in the server's words. The rules are those of
// the command line's text.

const FOOT = 0.3048, MILE = 1609.344

export const units = { system: 'metric' }

const us = () => units.system === 'us'
const whole = v => String(Math.round(v) + 0)

export function group(v) {
  const s = String(Math.abs(Math.round(v)))
  const parts = s.length > 4 ? s.replace(/\B(?=(\d{3})+$)/g, ' ') : s
  return (Math.round(v) < 0 ? '-' : '') + parts
}

export function distance(m) {
  if (m === null || Number.isNaN(m)) return 'unknown'
  if (us()) return m < MILE / 10 ? whole(m / FOOT) + ' ft' : (m / MILE).toFixed(m < 10 * MILE ? 2 : 1) + ' mi'
  if (m < 999.5) return whole(m) + ' m'
  return (m / 1000).toFixed(m < 9995 ? 2 : 1) + ' km'
}

export function elevation(m) {
  if (m === null || m === undefined || Number.isNaN(m)) return 'height unknown'
  return us() ? group(m / FOOT) + ' ft' : group(m) + ' m'
}

export const dial = deg => String((Math.round(deg) % 360 + 360) % 360).padStart(3, '0')
export const upDown = deg => { const r = Math.round(deg * 10) / 10; return r > 0 ? r.toFixed(1) + '° up' : r < 0 ? (-r).toFixed(1) + '° down' : 'level' }
export const eastWest = (deg, decimals = 1) => { const r = Number(deg.toFixed(decimals)); return r > 0 ? r.toFixed(decimals) + '° E' : r < 0 ? (-r).toFixed(decimals) + '° W' : '0°' }

// A round length of the system in use, at most so many metres: metres, the
// figure and its unit.
export function roundLength(most) {
  const unit = us() ? (most < MILE / 2 ? FOOT : MILE) : (most < 1000 ? 1 : 1000)
  const name = us() ? (unit === FOOT ? 'ft' : 'mi') : (unit === 1 ? 'm' : 'km')
  const v = roundUnder(most / unit)
  return { metres: v * unit, figure: v, name }
}

// The greatest of 1, 2, 5 times a power of ten that is no more than v.
export function roundUnder(v) {
  const ten = 10 ** Math.floor(Math.log10(v) + 1e-9)
  for (const m of [5, 2, 1]) if (m * ten <= v * (1 + 1e-9)) return m * ten
  return ten
}

// Steps of an axis of heights: metres from line to line and the unit's size.
export function heightStep(span, lines) {
  const unit = us() ? FOOT : 1
  return { step: roundUnder(span / unit / lines * 2) * unit, unit, name: us() ? 'ft' : 'm' }
}

export function distanceStep(span, lines) {
  const big = us() ? MILE : 1000
  const unit = span / big >= 0.8 ? big : (us() ? FOOT : 1)
  return { step: roundUnder(span / unit / lines * 2) * unit, unit, name: us() ? (unit === MILE ? 'mi' : 'ft') : (unit === 1000 ? 'km' : 'm') }
}
