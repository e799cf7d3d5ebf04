// Pieces of the page. Text goes in as text, never as markup: what a file says can't become part of the page.
const SVG = 'http://www.w3.org/2000/svg';

export function make(name, attributes = {}, ...inside) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) node.addEventListener(key.slice(2), value);
    else node.setAttribute(key, value === true ? '' : value);
  }
  node.append(...inside.flat().filter(piece => piece !== null && piece !== undefined && piece !== false));
  return node;
}

export function svg(name, attributes = {}, ...inside) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...inside);
  return node;
}

// each state: a shape of its own, a colour of its own, and a word
const STATES = {
  'conforms': ['round', 'var(--good)', 'M7 12.5l3.5 3.5 6.5-7.5'],
  'not proven': ['triangle', 'var(--open)', 'M12 9v5.5M12 17.4v.4'],
  'does not conform': ['octagon', 'var(--bad)', 'M8 8l8 8M16 8l-8 8'],
  'hold-down ready': ['round', 'var(--good)', 'M7 12.5l3.5 3.5 6.5-7.5'],
  'hold-down not ready': ['triangle', 'var(--open)', 'M12 9v5.5M12 17.4v.4'],
  'not judged': ['ring', 'var(--soft)', 'M8 12h8'],
  'not run yet': ['dashed', 'var(--soft)', ''],
  'cannot be read': ['diamond', 'var(--bad)', 'M12 7.5v6M12 16v.4'],
  'running': ['dashed', 'var(--blue)', 'M12 7v5l3.5 2'],
  'waiting': ['dashed', 'var(--soft)', 'M9 8v8M15 8v8'],
  'stopped': ['square', 'var(--soft)', 'M8 12h8'],
  'being read': ['dashed', 'var(--soft)', ''],
  'changed': ['triangle', 'var(--open)', 'M12 9v5.5M12 17.4v.4'],
};
const OUTLINES = {
  round: () => svg('circle', { cx: 12, cy: 12, r: 11 }),
  ring: () => svg('circle', { cx: 12, cy: 12, r: 10 }),
  dashed: () => svg('circle', { cx: 12, cy: 12, r: 10, 'stroke-dasharray': '4 3.3' }),
  triangle: () => svg('path', { d: 'M12 1.5L23.5 22h-23z' }),
  square: () => svg('rect', { x: 1.5, y: 1.5, width: 21, height: 21, rx: 2 }),
  octagon: () => svg('path', { d: 'M7.5 1h9L23 7.5v9L16.5 23h-9L1 16.5v-9z' }),
  diamond: () => svg('path', { d: 'M12 .5L23.5 12 12 23.5.5 12z' }),
};

export function sign(state) {
  const [shape, colour, mark] = STATES[state] ?? STATES['not judged'];
  const hollow = shape === 'ring' || shape === 'dashed';
  const outline = OUTLINES[shape]();
  outline.setAttribute('fill', hollow ? 'none' : colour);
  if (hollow) { outline.setAttribute('stroke', colour); outline.setAttribute('stroke-width', 2); }
  const picture = svg('svg', { viewBox: '0 0 24 24', class: 'sign', 'aria-hidden': 'true' }, outline);
  if (mark)
    picture.append(svg('path', { d: mark, fill: 'none', stroke: hollow ? colour : 'var(--mark)', 'stroke-width': 2.4, 'stroke-linecap': 'round', 'stroke-linejoin': 'round' }));
  return picture;
}

export const said = (state, size = '') => make('span', { class: 'said ' + size }, sign(state), state);

// to the digits that the number has, at most three decimals: shown, never decided by
export const number = (value, unit = '') => typeof value === 'number'
  ? value.toLocaleString('en', { maximumFractionDigits: 3, useGrouping: false, signDisplay: 'negative' }) + (unit && ' ' + unit) : '';

// a value beside its limits: with as many decimals more as tell it from them
export function beside(value, ...limits) {
  if (typeof value !== 'number') return '';
  const shown = (v, decimals) => v.toLocaleString('en', { maximumFractionDigits: decimals, useGrouping: false });
  let decimals = 3;
  while (decimals < 9 && limits.some(limit => typeof limit === 'number' && limit !== value && shown(limit, decimals) === shown(value, decimals))) decimals++;
  return shown(value, decimals);
}

export function moment(seconds) {
  if (!seconds) return '';
  const at = new Date(seconds * 1000), two = n => String(n).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
}

export function say(text) {
  const place = document.getElementById('said');
  place.textContent = text;
  clearTimeout(say.timer);
  say.timer = setTimeout(() => { place.textContent = ''; }, 6000);
}

export const problem = text => make('p', { class: 'problem', role: 'alert' }, text);
